//! Tests of the reader: what is accepted, and every refusal.

mod contradicting;
mod refused;
mod shipped;
