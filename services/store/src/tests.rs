//! The store through its public calls, on a new file each time.

mod appends;
mod chains;
mod files;
mod fleet;
mod graphs;
mod mails;
mod readings;
mod sample;
