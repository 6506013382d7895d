//! Records and what they amount to: stories worked by hand, and what must hold for any records.

#[cfg(test)]
mod bench_shop;
#[cfg(test)]
mod properties;
#[cfg(test)]
mod stories;
