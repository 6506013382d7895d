//! The chain of a stream: each fact's hash covers the one before, so that no byte of an old fact can change
//! without every later hash changing too.
//!
//! What it cannot show: a whole stream left out, or a chain rewritten from some point on by somebody who
//! holds the database. Heads printed elsewhere are what shows that.

use crate::bytes::Digest;
use crate::codec;
use crate::facts::FactBody;
use crate::streams::kind_number;
use gudgeon_life::fact::{Entry, Stream};
use sha2::{Digest as _, Sha256};

/// What the hash before the first is.
pub(crate) const GENESIS: Digest = Digest([0; 32]);

/// What is wrong with a fact whose text nobody erased.
pub(crate) const TEXT_MISSING: &str =
    "its private text is missing, and no erasure on record took it";

const FACT_DOMAIN: &[u8] = b"gudgeon/fact/v1";
const PRIVATE_DOMAIN: &[u8] = b"gudgeon/private/v1\0";

/// The hash of several parts. Each goes in with its length, so that no two lists of parts run together alike.
pub(crate) fn hash_parts(parts: &[&[u8]]) -> Digest {
    let mut hasher = Sha256::new();
    for part in parts {
        hasher.update(u64::try_from(part.len()).unwrap_or(u64::MAX).to_be_bytes());
        hasher.update(part);
    }
    Digest(hasher.finalize().into())
}

/// The hash of a fact.
pub(crate) fn hash(stream: Stream, fact: &FactBody) -> Digest {
    hash_parts(&[
        FACT_DOMAIN,
        &fact.prev_hash.0,
        &kind_number(stream.kind).to_be_bytes(),
        &stream.id.bytes(),
        &fact.seq.to_be_bytes(),
        &fact.uid.0,
        fact.kind.as_bytes(),
        &fact.v.to_be_bytes(),
        fact.day.to_string().as_bytes(),
        &fact.order_in_day.to_be_bytes(),
        fact.posted_by.as_ref().map_or(&[], |by| by.0.as_slice()),
        fact.recorded_at.map(i64::to_be_bytes).as_ref().map_or(&[], <[u8; 8]>::as_slice),
        &fact.received_at.to_be_bytes(),
        fact.data.as_bytes(),
        fact.private_digest.as_ref().map_or(&[], |digest| digest.0.as_slice()),
    ])
}

/// The digest that stands in the chain for private text; the salt keeps a short name from being guessed.
pub(crate) fn private_digest(salt: &Digest, body: &str) -> Digest {
    let mut hasher = Sha256::new();
    hasher.update(PRIVATE_DOMAIN);
    hasher.update(salt.0);
    hasher.update(body);
    Digest(hasher.finalize().into())
}

/// What is here of a fact's private text.
#[derive(Clone, Copy)]
pub(crate) enum PrivateText<'a> {
    /// The salt and the text.
    Here(&'a Digest, &'a str),
    /// Nothing, and an erasure on record may have taken it.
    Erased,
    /// Nothing, and nothing may be missing.
    None,
}

/// A chain worked out anew, as far as its facts have been seen.
pub(crate) struct Chain {
    stream: Stream,
    /// The place of the last fact seen.
    pub(crate) seq: i64,
    /// Its hash.
    pub(crate) hash: Digest,
}

impl Chain {
    /// The chain of a stream before its first fact.
    pub(crate) const fn new(stream: Stream) -> Self {
        Self { stream, seq: 0, hash: GENESIS }
    }

    /// Goes on to the next fact, and gives what it says. The error says what is wrong with it.
    pub(crate) fn follow(
        &mut self,
        fact: &FactBody,
        private: PrivateText<'_>,
    ) -> Result<Entry, String> {
        if fact.seq != self.seq + 1 {
            return Err(format!("missing: the next one here is fact {}", fact.seq));
        }
        if fact.prev_hash != self.hash {
            return Err("it does not follow from the fact before it".to_owned());
        }
        if fact.hash != hash(self.stream, fact) {
            return Err("its content is not what its hash was made from".to_owned());
        }
        let (entry, _) = codec::read(fact.coding()).map_err(|error| error.to_string())?;
        if fact.content_digest.0 != codec::content_digest(&entry) {
            return Err("its content digest is not that of its content".to_owned());
        }
        match (private, fact.private_digest) {
            (PrivateText::Here(salt, text), Some(digest))
                if private_digest(salt, text) != digest =>
            {
                return Err("its private text is not what its digest was made from".to_owned());
            }
            (PrivateText::Here(..), None) => {
                return Err("it has private text that it was not posted with".to_owned());
            }
            (PrivateText::None, Some(_)) => return Err(TEXT_MISSING.to_owned()),
            _ => {}
        }
        self.seq = fact.seq;
        self.hash = fact.hash;
        Ok(entry)
    }

    /// Compares what was seen with the head that is kept of the stream.
    pub(crate) fn end(&self, head_seq: i64, head_hash: Digest) -> Result<(), String> {
        if (self.seq, self.hash) == (head_seq, head_hash) {
            return Ok(());
        }
        Err(format!("the stream's head says {head_seq} facts and another last hash"))
    }
}
