//! Checks records as they go by: every link of every chain, every head that was anchored, every anchor.
//!
//! Streams come in the order in which anchors hash their heads, so that one pass is enough and only a few hashes
//! of each anchor's tree are held. For the same reason the erasures, which are facts of parties, go by before what
//! they took elsewhere is missed.

use super::record::{FactLine, PhotoLine, Record, StreamLine};
use crate::anchors::{Anchor, AnchorRow, leaf};
use crate::bytes::{Digest, Id};
use crate::chain::{Chain, GENESIS, PrivateText, TEXT_MISSING};
use crate::error::StoreError;
use crate::merkle::Tree;
use crate::photos::photo_digest;
use crate::streams::kind_number;
use gudgeon_life::fact::{Content, Erased, Stream, StreamKind};
use gudgeon_life::ids::{FactId, Uid};
use gudgeon_life::version::hex;
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::fmt;

/// What is wrong with a private text that was put back.
const TEXT_BACK: &str = "its private text is here, though an erasure on record took it";

/// What was found whole.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Verified {
    /// How many streams hold facts.
    pub streams: u64,
    /// How many facts follow from one another.
    pub facts: u64,
    /// How many photographs have the bytes that their name was made from.
    pub photos: u64,
    /// How many private texts erasures on record took; the digests that the chains keep of them hold.
    pub texts_erased: u64,
    /// The last anchor; those before it are chained to it.
    pub anchor: Option<Anchor>,
}

/// The first thing found that is not as it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The line of the file, when it is one.
    pub line: Option<u64>,
    /// Where in the records.
    pub at: FaultAt,
    /// What is wrong there.
    pub what: String,
}

/// A place in the records.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FaultAt {
    /// A fact.
    Fact {
        /// Its stream.
        stream: Stream,
        /// Its place there, from 1.
        seq: i64,
        /// The fact that stands there; `None` when none does.
        id: Option<FactId>,
    },
    /// The anchor of this number.
    Anchor(i64),
    /// The photograph of this SHA-256.
    Photo([u8; 32]),
    /// The file itself.
    File,
}

impl Fault {
    /// The same, found on a line of a file, unless it is known to stand on another.
    pub(super) fn on_line(self, line: Option<u64>) -> Self {
        Self { line: self.line.or(line), ..self }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}: ")?;
        }
        match &self.at {
            FaultAt::Fact { stream, seq, id } => {
                let kind = match stream.kind {
                    StreamKind::Party => "party",
                    StreamKind::Aircraft => "aircraft",
                    StreamKind::Engine => "engine",
                    StreamKind::Component => "component",
                    StreamKind::Fleet => "fleet",
                };
                write!(f, "{kind} {}, fact {seq}", stream.id)?;
                if let Some(id) = id {
                    write!(f, " with id {}", id.0)?;
                }
                f.write_str(": ")?;
            }
            FaultAt::Anchor(seq) => write!(f, "anchor {seq}: ")?,
            FaultAt::Photo(digest) => write!(f, "photograph {}: ", hex(*digest))?,
            FaultAt::File => {}
        }
        f.write_str(&self.what)
    }
}

impl std::error::Error for Fault {}

impl From<Fault> for StoreError {
    fn from(fault: Fault) -> Self {
        Self::Damaged(fault)
    }
}

/// A stream whose facts are going by.
struct Open {
    line: StreamLine,
    chain: Chain,
    /// The anchored heads that are still to come.
    anchored: VecDeque<super::record::Anchored>,
    /// The first fact without its private text, of a party of whom no erasure is seen yet: it may follow.
    gap: Option<Fault>,
    /// The facts of a party whose private text is here: an erasure that took it may follow.
    told: BTreeMap<FactId, Fault>,
    /// Whether an erasure is among its facts.
    is_erased: bool,
}

impl Open {
    fn fault(&self, seq: i64, id: Option<Id>, what: String) -> Fault {
        let id = id.map(|id| FactId(Uid::from(id)));
        Fault { line: None, at: FaultAt::Fact { stream: self.line.stream(), seq, id }, what }
    }

    /// Notes that the private text of a fact is here; `back` is what is wrong if an erasure took it.
    fn tell(
        &mut self,
        fact: FactId,
        content: &Content,
        back: Fault,
        erased: &BTreeSet<FactId>,
    ) -> Result<(), Fault> {
        // Why somebody was erased may be told until the next erasure.
        let behind = self.is_erased && !matches!(content, Content::Erased(_));
        if behind || erased.contains(&fact) {
            return Err(back);
        }
        if self.line.stream().kind == StreamKind::Party {
            self.told.insert(fact, back);
        }
        Ok(())
    }

    /// Notes an erasure, and finds what it took of its own stream and is here.
    fn erase(&mut self, it: &Erased) -> Result<(), Fault> {
        self.is_erased = true;
        let back = it.facts.iter().find_map(|fact| self.told.get(fact));
        back.map_or(Ok(()), |back| Err(back.clone()))
    }
}

/// Takes records one by one and finds the first that is wrong.
#[derive(Default)]
pub(super) struct Verifier {
    open: Option<Open>,
    last_stream: Option<(i16, Id)>,
    /// The tree of each anchor over the heads that went by.
    trees: BTreeMap<i64, Tree>,
    last_anchor: Option<AnchorRow>,
    /// The facts that erasures name: those of parties, whose streams come before all others.
    erased: BTreeSet<FactId>,
    /// The photographs that erasures name.
    erased_photos: BTreeSet<[u8; 32]>,
    last_photo: Option<Digest>,
    found: Verified,
}

impl Verifier {
    /// Checks the next record, which stands on this line when it is from a file.
    pub(super) fn take(&mut self, record: &Record, line: Option<u64>) -> Result<(), Fault> {
        let checked = match record {
            Record::Stream(stream) => self.begin(stream),
            Record::Fact(fact) => self.follow(fact, line),
            Record::Anchor(row) => self.anchor(row),
            Record::Photo(line) => self.photo(line),
            _ => Ok(()),
        };
        checked.map_err(|fault| fault.on_line(line))
    }

    /// What was found whole, when nothing more comes.
    pub(super) fn finish(mut self) -> Result<Verified, Fault> {
        self.close()?;
        if let Some(seq) = self.trees.keys().next() {
            let what = "missing: heads were anchored by it, and it is not here".to_owned();
            return Err(Fault { line: None, at: FaultAt::Anchor(*seq), what });
        }
        self.found.anchor = self.last_anchor.map(AnchorRow::anchor);
        Ok(self.found)
    }

    fn begin(&mut self, line: &StreamLine) -> Result<(), Fault> {
        self.close()?;
        let stream = line.stream();
        let place = (kind_number(stream.kind), line.id);
        let anchored = line.anchored.iter().cloned().collect();
        let chain = Chain::new(stream);
        let (line, told) = (line.clone(), BTreeMap::new());
        let open = Open { line, chain, anchored, gap: None, told, is_erased: false };
        if self.last_stream.is_some_and(|last| last >= place) {
            let what = "its stream is here twice, or out of order".to_owned();
            return Err(open.fault(1, None, what));
        }
        self.last_stream = Some(place);
        self.open = Some(open);
        Ok(())
    }

    fn follow(&mut self, fact: &FactLine, line: Option<u64>) -> Result<(), Fault> {
        let FactLine { body, private } = fact;
        let Some(open) = &mut self.open else {
            let what = "a fact stands behind its stream".to_owned();
            return Err(Fault { line: None, at: FaultAt::File, what });
        };
        let expected = open.chain.seq + 1;
        let id = (body.seq == expected).then_some(body.uid);
        let of_party = open.line.stream().kind == StreamKind::Party;
        let may_be_erased = of_party || self.erased.contains(&FactId(Uid::from(body.uid)));
        let text = match private {
            Some(it) => PrivateText::Here(&it.salt, &it.body),
            None if may_be_erased => PrivateText::Erased,
            None => PrivateText::None,
        };
        let followed = open.chain.follow(body, text);
        let entry = followed.map_err(|what| open.fault(expected, id, what))?;
        if private.is_some() {
            let back = open.fault(expected, id, TEXT_BACK.to_owned()).on_line(line);
            open.tell(FactId(Uid::from(body.uid)), &entry.content, back, &self.erased)?;
        }
        if let Content::Erased(it) = entry.content {
            open.erase(&it)?;
            self.erased.extend(it.facts);
            self.erased_photos.extend(it.photos);
        }
        self.found.facts += 1;
        if body.private_digest.is_some() && private.is_none() {
            self.found.texts_erased += 1;
            if of_party && open.gap.is_none() {
                open.gap = Some(open.fault(expected, id, TEXT_MISSING.to_owned()).on_line(line));
            }
        }
        while let Some(head) = open.anchored.pop_front_if(|head| head.seq <= body.seq) {
            if (head.seq, head.hash) != (body.seq, body.hash) {
                let what = format!("anchor {} was made over another fact here", head.anchor);
                return Err(open.fault(head.seq, id, what));
            }
            let leaf = leaf(open.line.stream(), head.seq, head.hash);
            self.trees.entry(head.anchor).or_default().add(&leaf);
        }
        Ok(())
    }

    /// Checks that nothing is missing at the end of a stream.
    fn close(&mut self) -> Result<(), Fault> {
        let Some(open) = self.open.take() else { return Ok(()) };
        // A party who is erased has nothing private left.
        if let (Some(gap), false) = (&open.gap, open.is_erased) {
            return Err(gap.clone());
        }
        let (facts, hash) = (open.line.facts, open.line.hash);
        let fault = |what| open.fault(open.chain.seq + 1, None, what);
        open.chain.end(facts, hash).map_err(fault)?;
        if let Some(head) = open.anchored.front() {
            let what = format!("missing: anchor {} was made over it", head.anchor);
            return Err(open.fault(head.seq, None, what));
        }
        self.found.streams += u64::from(facts > 0);
        Ok(())
    }

    fn photo(&mut self, line: &PhotoLine) -> Result<(), Fault> {
        let digest = line.digest;
        let fault = |what| Fault { line: None, at: FaultAt::Photo(digest.0), what };
        if self.last_photo.is_some_and(|last| last >= digest) {
            return Err(fault("it is here twice, or out of order".to_owned()));
        }
        self.last_photo = Some(digest);
        check_photo(line, self.erased_photos.contains(&digest.0)).map_err(fault)?;
        self.found.photos += 1;
        Ok(())
    }

    fn anchor(&mut self, row: &AnchorRow) -> Result<(), Fault> {
        self.close()?;
        let (seq, previous) =
            self.last_anchor.as_ref().map_or((1, GENESIS), |last| (last.seq + 1, last.hash));
        let tree = self.trees.remove(&row.seq).unwrap_or_default();
        check_anchor(row, seq, previous, &tree).map_err(|what| Fault {
            line: None,
            at: FaultAt::Anchor(seq),
            what,
        })?;
        self.last_anchor = Some(row.clone());
        Ok(())
    }
}

/// What is wrong with a photograph by itself.
fn check_photo(line: &PhotoLine, is_erased: bool) -> Result<(), String> {
    if photo_digest(&line.bytes) != line.digest.0 {
        return Err("its bytes are not those that its name was made from".to_owned());
    }
    if is_erased {
        return Err("it is here, though an erasure on record took it".to_owned());
    }
    let size = i64::try_from(line.bytes.len()).unwrap_or(i64::MAX);
    if line.senders.iter().any(|it| it.size != size) {
        return Err("whoever sent it sent another number of bytes".to_owned());
    }
    Ok(())
}

fn check_anchor(row: &AnchorRow, seq: i64, previous: Digest, tree: &Tree) -> Result<(), String> {
    if row.seq != seq {
        return Err(format!("missing: the next one here is anchor {}", row.seq));
    }
    if row.previous != previous {
        return Err("it does not follow from the anchor before it".to_owned());
    }
    if row.hash != row.worked_out() {
        return Err("it is not what its hash was made from".to_owned());
    }
    if row.heads != tree.leaves() {
        let here = tree.leaves();
        return Err(format!("it was made over {} heads, and {here} of them are here", row.heads));
    }
    if row.root != tree.root() {
        return Err("the heads here are not those that it was made over".to_owned());
    }
    Ok(())
}
