//! Tests of the reader: what is accepted, and every refusal.

mod contradicting;
mod reaching;
mod refused;
mod shipped;
mod shown;
