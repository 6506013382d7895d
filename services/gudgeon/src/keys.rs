//! `gudgeon key`: makes a bearer key, keeps its hash, prints it once.

use crate::clock;
use crate::settings::Settings;
use clap::ValueEnum;
use gudgeon_api::auth::mint_key;
use gudgeon_store::{NewKey, Role, Store};
use std::error::Error;
use std::io::{self, Write};

/// What a key made on the command line may do. Workshops get theirs from the operator, over the API.
#[derive(Clone, Copy, ValueEnum)]
pub(crate) enum KeyRole {
    /// Reads everything, changes nothing.
    Inspector,
    /// Manages workshops, keys and engine types.
    Operator,
}

/// Makes a key and prints it.
pub(crate) fn run(settings: &Settings, role: KeyRole, label: &str) -> Result<(), Box<dyn Error>> {
    let store = settings.open_store(false)?;
    let key = make(&store, role, label)?;
    writeln!(io::stdout(), "{key}")?;
    Ok(())
}

/// Makes a key; the text is known only here, the store keeps its hash.
pub(crate) fn make(store: &Store, role: KeyRole, label: &str) -> Result<String, Box<dyn Error>> {
    let (text, hash) = mint_key();
    let role = match role {
        KeyRole::Inspector => Role::Inspector,
        KeyRole::Operator => Role::Operator,
    };
    let created_at = clock::now();
    store.add_key(&NewKey { hash, role, party: None, label, created_at, expires_at: None })?;
    Ok(text)
}
