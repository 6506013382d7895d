//! Numbers and identifiers that look random and are the same each time.

use gudgeon_life::ids::Uid;

/// An identifier of version 7: what is posted together lies together.
pub(super) fn uid(seed: u64, kind: u8, number: u32, sub: u16) -> Uid {
    let [n0, n1, n2, n3] = number.to_be_bytes();
    let [s0, s1] = sub.to_be_bytes();
    let [.., a, b, c, d] = mixed(seed).to_be_bytes();
    Uid::from_bytes([1, 0x9a, n0, n1, n2, n3, 0x70, kind, 0x80, 0, s0, s1, a, b, c, d])
}

/// Numbers that look random and are the same each time: `SplitMix64` (Steele, Lea, Flood: "Fast
/// Splittable Pseudorandom Number Generators", 2014).
pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn new(seed: u64, kind: u8, number: u32) -> Self {
        Self(mixed(seed ^ mixed(u64::from(kind) << 32 | u64::from(number))))
    }

    fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(GAMMA);
        mixed(self.0)
    }

    /// A number of a list's places.
    pub(super) fn below(&mut self, places: usize) -> usize {
        let places = u64::try_from(places.max(1)).unwrap_or(u64::MAX);
        usize::try_from(self.roll() % places).unwrap_or_default()
    }

    /// A number from `least` to `most`, both included.
    pub(super) fn between(&mut self, least: u32, most: u32) -> i64 {
        i64::try_from(self.days(u64::from(least), u64::from(most))).unwrap_or_default()
    }

    /// The same for days.
    pub(super) fn days(&mut self, least: u64, most: u64) -> u64 {
        least + self.roll() % (most - least + 1)
    }

    /// True once in so many times.
    pub(super) fn one_in(&mut self, times: u64) -> bool {
        self.roll().is_multiple_of(times)
    }
}

const GAMMA: u64 = 0x9e37_79b9_7f4a_7c15;

fn mixed(number: u64) -> u64 {
    let number = (number ^ (number >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let number = (number ^ (number >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    number ^ (number >> 31)
}
