//! `gudgeon owner-export`: all that is on record about an owner, for whoever asks what is known of them.

use crate::clock;
use crate::settings::Settings;
use gudgeon_api::OwnerExport;
use gudgeon_api::problem::Problem;
use gudgeon_life::ids::{PartyId, Uid};
use std::error::Error;
use std::io::{self, Write};

/// Writes the export to standard output.
pub(crate) fn run(settings: &Settings, id: &str) -> Result<(), Box<dyn Error>> {
    let owner = Uid::parse(id).map(PartyId).ok_or_else(|| {
        format!("`{id}` is not a UUID; write it such as 017f22e2-79b0-7cc3-98c4-dc0c0c07398f")
    })?;
    let store = settings.open_store(false)?;
    let export = OwnerExport::of(&store, owner, clock::now()).map_err(|problem| told(&problem))?;
    let mut out = io::stdout().lock();
    for piece in export.ok_or_else(|| format!("no owner {owner} is on record"))? {
        out.write_all(piece.map_err(|problem| told(&problem))?.as_bytes())?;
    }
    Ok(())
}

/// On the command line there is no log to look the cause up in.
fn told(problem: &Problem) -> String {
    problem.cause().unwrap_or(&problem.detail).to_owned()
}
