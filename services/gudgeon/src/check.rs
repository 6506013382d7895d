//! `gudgeon check FILE...`: reads engine types and prints every fault, without storing anything.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Checks each file and prints `ok: NAME, N items` or its faults, one a line; then a count.
/// Answers whether all files are in order.
///
/// # Errors
/// Only when `out` cannot be written. A file that cannot be read is a fault of that file.
pub(crate) fn run(files: &[PathBuf], out: &mut impl Write) -> io::Result<bool> {
    let mut fault_count = 0;
    let mut refused_count = 0;
    for file in files {
        let lines = match check(file) {
            Ok(line) => vec![line],
            Err(faults) => {
                refused_count += 1;
                fault_count += faults.len();
                faults
            }
        };
        for line in lines {
            writeln!(out, "{line}")?;
        }
    }
    let ok_count = files.len() - refused_count;
    writeln!(
        out,
        "checked {}: {ok_count} ok, {refused_count} refused",
        counted(files.len(), "file")
    )?;
    if fault_count > 0 {
        writeln!(out, "{} to put right", counted(fault_count, "fault"))?;
    }
    Ok(refused_count == 0)
}

fn check(file: &Path) -> Result<String, Vec<String>> {
    let name = file.display().to_string();
    let bytes = fs::read(file).map_err(|error| vec![format!("{name}: cannot be read: {error}")])?;
    let text = String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        vec![format!("{name}: not UTF-8 text at byte {at}; save it as UTF-8")]
    })?;
    match gudgeon_catalogue::parse(&name, &text) {
        Ok(engine_type) => {
            let items = counted(engine_type.items.len(), "item");
            Ok(format!("ok: {}, {items}", engine_type.name))
        }
        Err(faults) => Err(faults.iter().map(ToString::to_string).collect()),
    }
}

fn counted(number: usize, what: &str) -> String {
    format!("{number} {what}{}", if number == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn checked(files: &[&str]) -> (bool, String) {
        let files: Vec<PathBuf> = files.iter().map(PathBuf::from).collect();
        let mut out = Vec::new();
        let ok = run(&files, &mut out).expect("memory can be written");
        (ok, String::from_utf8(out).expect("messages are text"))
    }

    const SHIPPED: &str =
        concat!(env!("CARGO_MANIFEST_DIR"), "/../../config/engine-types/oarlock-twin.toml");

    #[test]
    fn every_shipped_engine_type_is_ok() {
        let folder = Path::new(SHIPPED).parent().expect("it lies in a folder");
        let files = fs::read_dir(folder).expect("the folder of engine types");
        let mut files: Vec<PathBuf> = files.map(|file| file.expect("a file").path()).collect();
        files.sort();
        let mut out = Vec::new();
        assert!(run(&files, &mut out).expect("memory can be written"));
        let printed = String::from_utf8(out).expect("messages are text");
        for name in ["oarlock-twin", "thwart-twin", "transom-flat"] {
            assert!(printed.contains(&format!("ok: {name}, ")), "{printed}");
        }
        assert!(printed.ends_with("checked 3 files: 3 ok, 0 refused\n"), "{printed}");
    }

    #[test]
    fn a_missing_and_a_wrong_file_are_named_and_the_rest_is_checked() {
        // This source file is text, and no engine type.
        let wrong = concat!(env!("CARGO_MANIFEST_DIR"), "/src/check.rs");
        let (ok, printed) = checked(&["nowhere.toml", wrong, SHIPPED]);
        assert!(!ok, "{printed}");
        assert!(printed.starts_with("nowhere.toml: cannot be read: "), "{printed}");
        assert!(printed.contains("check.rs:1: not TOML: "), "{printed}");
        assert!(printed.contains("ok: oarlock-twin"), "{printed}");
        assert!(printed.contains("checked 3 files: 1 ok, 2 refused\n"), "{printed}");
    }
}
