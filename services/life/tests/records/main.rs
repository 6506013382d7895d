//! Records and what they amount to: stories worked by hand, and what must hold for any records.

mod bench_shop;
mod properties;
mod stories;
