//! Random numbers of the kinds that simulators need, the same for the same seed.

use std::f64::consts::TAU;

/// `SplitMix64` (Steele, Lea, Flood: "Fast Splittable Pseudorandom Number Generators", 2014).
pub(super) struct Random(u64);

impl Random {
    /// Numbers of their own for each place of a simulation.
    pub(super) fn new(seed: u64, place: u64) -> Self {
        let mut random = Self(seed ^ place.wrapping_mul(0xd6e8_feb8_6659_fd93));
        random.next();
        random
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let number = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let number = (number ^ (number >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        number ^ (number >> 31)
    }

    /// Between 0 and 1, neither included.
    pub(super) fn share(&mut self) -> f64 {
        let high = u32::try_from(self.next() >> 32).unwrap_or(u32::MAX);
        (f64::from(high) + 0.5) / 4_294_967_296.0
    }

    pub(super) fn between(&mut self, least: f64, most: f64) -> f64 {
        least + (most - least) * self.share()
    }

    /// Between two numbers, each ratio as likely.
    pub(super) fn log_between(&mut self, least: f64, most: f64) -> f64 {
        self.between(least.ln(), most.ln()).exp()
    }

    /// A whole number below another.
    pub(super) fn below(&mut self, places: u32) -> u32 {
        u32::try_from(self.next() % u64::from(places.max(1))).unwrap_or_default()
    }

    pub(super) fn chance(&mut self, probability: f64) -> bool {
        self.share() < probability
    }

    /// Standard normal: G. E. P. Box and M. E. Muller, Annals of Mathematical Statistics 29 (1958) 610-611.
    pub(super) fn normal(&mut self) -> f64 {
        (-2.0 * self.share().ln()).sqrt() * (TAU * self.share()).cos()
    }

    /// Gamma with mean 1: G. Marsaglia and W. W. Tsang, ACM Transactions on Mathematical Software 26 (2000)
    /// 363-372. Shapes from 1.
    pub(super) fn gamma(&mut self, shape: f64) -> f64 {
        let d = shape - 1.0 / 3.0;
        loop {
            let normal = self.normal();
            let v = (1.0 + normal / (9.0 * d).sqrt()).powi(3);
            if v > 0.0 && self.share().ln() < normal * normal / 2.0 + d - d * v + d * v.ln() {
                return d * v / shape;
            }
        }
    }

    /// Poisson, for means up to some tens: as many as arrive in one unit of time.
    pub(super) fn poisson(&mut self, mean: f64) -> u32 {
        let (mut count, mut left) = (0, mean + self.share().ln());
        while left > 0.0 {
            count += 1;
            left += self.share().ln();
        }
        count
    }
}
