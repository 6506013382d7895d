//! What is odd about how things were fastened, and about parts that are not with their set.

use crate::answers::Warning;
use crate::problem::Problem;
use gudgeon_life::fact::{Content, Fact, Fastening, Inspection, Seen, Stream, WasherFacing};
use gudgeon_life::ids::{EngineId, FactId, PositionId};
use gudgeon_life::matched::mismatches;
use gudgeon_store::Store;

/// A bolt that is longer than the room for it, and a dished washer that was turned over.
pub(super) fn odd_fastenings(inspection: &Inspection, prefix: &str) -> Vec<Warning> {
    let told = inspection.fastenings.iter().enumerate();
    told.flat_map(|(at, it)| {
        let pointer = |member: &str| Some(format!("{prefix}/fastenings/{at}/{member}"));
        let too_long = it.bolt.filter(|bolt| bolt.is_too_long()).map(|bolt| Warning {
            code: "bolt-too-long",
            detail: format!(
                "the bolt of {} is {} {} long, and there is room for {} {}: it will press on what lies behind",
                place(it),
                bolt.length.value,
                bolt.length.unit.word(),
                bolt.room.value,
                bolt.room.unit.word()
            ),
            pointer: pointer("bolt"),
        });
        let turned = found_before(inspection, it).filter(|before| Some(*before) != it.washer).map(|_| {
            Warning {
                code: "washer-turned",
                detail: format!(
                    "the dished washer of {} was left the other way round than it was found; check which is right",
                    place(it)
                ),
                pointer: pointer("washer"),
            }
        });
        too_long.into_iter().chain(turned)
    })
    .collect()
}

/// Which way the washer of a fastening faced when it was found, where it is told how it was left too.
fn found_before(inspection: &Inspection, left: &Fastening) -> Option<WasherFacing> {
    if left.seen != Seen::Left || left.washer.is_none() {
        return None;
    }
    let same = |it: &&Fastening| {
        it.seen == Seen::Found
            && it.washer.is_some()
            && (&it.item, &it.position) == (&left.item, &left.position)
    };
    inspection.fastenings.iter().find(same).and_then(|it| it.washer)
}

fn place(it: &Fastening) -> String {
    let item = it.item.as_str().replace('-', " ");
    let at = it.position.as_ref().map(PositionId::as_str);
    at.map_or_else(|| item.clone(), |at| format!("{item} at {at}"))
}

/// What a record puts where it did not run, or with what it did not run with: told once it is kept.
pub(crate) fn mismatched(
    store: &Store,
    fact: &Fact,
    engines: &[EngineId],
) -> Result<Vec<Warning>, Problem> {
    let mut warnings = Vec::new();
    let Some(root) = places_parts(fact) else { return Ok(warnings) };
    for id in engines {
        let history = store.history_of(Stream::engine(*id))?;
        let told = mismatches(&history, *id).into_iter().filter(|it| it.fact == root);
        warnings.extend(told.map(|it| Warning {
            code: it.word(),
            detail: it.printed(),
            pointer: None,
        }));
    }
    Ok(warnings)
}

/// The record that a fact is a version of, when it puts parts somewhere.
fn places_parts(fact: &Fact) -> Option<FactId> {
    let of = |content: &Content, root: FactId| match content {
        Content::Inspection(it) => (!it.matched.is_empty()).then_some(root),
        Content::ComponentFitted(_) => Some(root),
        _ => None,
    };
    match &fact.entry.content {
        Content::Amendment(it) => of(&it.replacement.as_ref()?.content, it.root),
        content => of(content, fact.id),
    }
}
