//! Tests of the reader: what is accepted, and every refusal.

mod bench;
mod contradicting;
mod on_condition;
mod reaching;
mod refused;
mod shipped;
mod shown;
mod trends;
