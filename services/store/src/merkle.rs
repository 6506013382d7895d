//! The Merkle tree hash of RFC 6962 section 2.1 with SHA-256, over leaves that come one by one.
//!
//! A leaf is hashed behind a zero byte and two nodes behind a one, so that no leaf passes for a node. Only one
//! hash per level is kept, however many leaves there are.

use crate::bytes::Digest;
use sha2::{Digest as _, Sha256};

const LEAF: [u8; 1] = [0];
const NODE: [u8; 1] = [1];

/// A tree that grows by a leaf at a time.
#[derive(Default)]
pub(crate) struct Tree {
    leaves: i64,
    /// The roots of its full subtrees, the largest first: one for each bit of `leaves`.
    full: Vec<Digest>,
}

impl Tree {
    /// How many leaves it has.
    pub(crate) const fn leaves(&self) -> i64 {
        self.leaves
    }

    /// Adds a leaf behind all others.
    pub(crate) fn add(&mut self, leaf: &[u8]) {
        let mut node = hash(&LEAF, leaf, &[]);
        for _ in 0..self.leaves.trailing_ones() {
            if let Some(left) = self.full.pop() {
                node = joined(&left, &node);
            }
        }
        self.full.push(node);
        self.leaves += 1;
    }

    /// The root of all leaves so far.
    pub(crate) fn root(&self) -> Digest {
        let right_to_left = self.full.iter().rev().copied();
        right_to_left
            .reduce(|right, left| joined(&left, &right))
            .unwrap_or_else(|| hash(&[], &[], &[]))
    }
}

fn joined(left: &Digest, right: &Digest) -> Digest {
    hash(&NODE, &left.0, &right.0)
}

fn hash(prefix: &[u8], first: &[u8], second: &[u8]) -> Digest {
    let hasher = Sha256::new().chain_update(prefix).chain_update(first).chain_update(second);
    Digest(hasher.finalize().into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use gudgeon_life::version::hex;

    // The tree with no leaf is the SHA-256 of nothing (RFC 6962 section 2.1). The others were worked out in
    // Python's hashlib by the recursion of that section, which splits the leaves; ours never does.
    #[test]
    fn roots_are_those_of_the_rfc() {
        let leaves: [&[u8]; 8] = [
            b"",
            b"\x00",
            b"\x10",
            b"\x20\x21",
            b"\x30\x31",
            b"\x40\x41\x42\x43",
            b"\x50\x51\x52\x53\x54\x55\x56\x57",
            b"\x60\x61\x62\x63\x64\x65\x66\x67\x68\x69\x6a\x6b\x6c\x6d\x6e\x6f",
        ];
        let roots = [
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
            "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
            "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
            "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
            "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
            "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
            "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
            "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
        ];
        let mut tree = Tree::default();
        let mut found = vec![hex(tree.root().0)];
        for leaf in leaves {
            tree.add(leaf);
            found.push(hex(tree.root().0));
        }
        assert_eq!(found, roots);
        assert_eq!(tree.leaves(), 8);
    }
}
