//! Keeps the house in order: what the design and `DEVELOPERS.md` say of the tree is true of the tree.

#![expect(clippy::unwrap_used, reason = "a tree that cannot be read has failed the test")]

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// No more lines than this in a file, so that it can be read in one go.
const LINES_MAX: usize = 400;

/// The top level: these folders and files, and nothing else.
const FOLDERS: [&str; 5] = ["config", "migrations", "reports", "services", "tests"];
const FILES: [&str; 5] = ["Cargo.lock", "Cargo.toml", "DEVELOPERS.md", "LICENSE", "README.md"];

/// Who may depend on whom. The tests may on all.
const ARROWS: [(&str, &[&str]); 8] = [
    ("gudgeon-databases", &[]),
    ("gudgeon-life", &[]),
    ("gudgeon-store", &["gudgeon-life"]),
    ("gudgeon-catalogue", &["gudgeon-life"]),
    ("gudgeon-calendar", &["gudgeon-life", "gudgeon-store"]),
    ("gudgeon-api", &["gudgeon-calendar", "gudgeon-catalogue", "gudgeon-life", "gudgeon-store"]),
    ("gudgeon-reports", &["gudgeon-catalogue", "gudgeon-life", "gudgeon-store"]),
    (
        "gudgeon",
        &[
            "gudgeon-api",
            "gudgeon-calendar",
            "gudgeon-catalogue",
            "gudgeon-life",
            "gudgeon-reports",
            "gudgeon-store",
        ],
    ),
];

/// Words that only one place may use, put together here so that this file does not use them itself: the
/// word, the places, and the reason.
const RESERVED: [(&str, &[&str], &str); 8] = [
    (concat!("SystemTime", "::now"), &["services/gudgeon/"], CLOCK),
    (concat!("Utc", "::now"), &["services/gudgeon/"], CLOCK),
    (concat!("Local", "::now"), &["services/gudgeon/"], CLOCK),
    // A test may wait for something to happen, but not for ever; a bench measures.
    (
        concat!("Instant", "::now"),
        &["services/gudgeon/", "services/store/benches/", "tests/"],
        CLOCK,
    ),
    (concat!("die", "sel"), &["services/store/"], DATABASE),
    (concat!("SEL", "ECT "), &["services/store/"], DATABASE),
    (concat!("INS", "ERT INTO "), &["services/store/"], DATABASE),
    (concat!("UPD", "ATE "), &["services/store/"], DATABASE),
];
const CLOCK: &str = "only the binary reads the time; take a clock or a day as an argument";
const DATABASE: &str =
    "only the store knows the database; give it a method that says what is wanted";

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

fn read(path: &str) -> String {
    fs::read_to_string(root().join(path)).unwrap_or_else(|why| panic!("{path}: {why}"))
}

/// The names in a folder, sorted.
fn names(folder: &Path) -> BTreeSet<String> {
    let entries = fs::read_dir(folder).unwrap_or_else(|why| panic!("{}: {why}", folder.display()));
    entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

/// What `.gitignore` keeps out of the top level.
fn ignored() -> BTreeSet<String> {
    read(".gitignore")
        .lines()
        .filter_map(|line| line.strip_prefix('/'))
        .map(str::to_owned)
        .collect()
}

/// Every Rust file of the project, by its path from the top.
fn rust_files() -> Vec<String> {
    let mut found = Vec::new();
    let mut folders: Vec<String> = FOLDERS.map(str::to_owned).to_vec();
    while let Some(folder) = folders.pop() {
        for name in names(&root().join(&folder)) {
            let path = format!("{folder}/{name}");
            if root().join(&path).is_dir() {
                folders.push(path);
            } else if Path::new(&path).extension().is_some_and(|it| it == "rs") {
                found.push(path);
            }
        }
    }
    assert!(found.len() > 50, "only {} Rust files found", found.len());
    found.sort();
    found
}

fn none(faults: &[String]) {
    assert!(faults.is_empty(), "\n{}\n", faults.join("\n"));
}

#[test]
fn top_level_holds_only_the_agreed_names() {
    let agreed: BTreeSet<String> = FOLDERS.into_iter().chain(FILES).map(str::to_owned).collect();
    let ignored = ignored();
    let found: BTreeSet<String> = names(&root())
        .into_iter()
        .filter(|name| !name.starts_with('.') && !ignored.contains(name))
        .collect();
    assert_eq!(found, agreed);
}

#[test]
fn every_file_says_first_what_it_is_for() {
    let silent = |path: &String| !read(path).starts_with("//! ");
    none(&rust_files().into_iter().filter(silent).collect::<Vec<_>>());
}

#[test]
fn no_file_is_too_long_to_read_in_one_go() {
    let long = |path: String| {
        let lines = read(&path).lines().count();
        (lines > LINES_MAX).then(|| format!("{path}: {lines} lines, at most {LINES_MAX}"))
    };
    none(&rust_files().into_iter().filter_map(long).collect::<Vec<_>>());
}

#[test]
fn the_clock_and_the_database_stay_in_their_place() {
    let mut faults = Vec::new();
    for path in rust_files() {
        let text = read(&path);
        let code = text.lines().enumerate().filter(|(_, it)| !it.trim_start().starts_with("//"));
        for (number, line) in code {
            for (word, places, reason) in RESERVED {
                if line.contains(word) && !places.iter().any(|place| path.starts_with(place)) {
                    faults.push(format!("{path}:{}: `{word}`: {reason}", number + 1));
                }
            }
        }
    }
    none(&faults);
}

/// Every crate of the workspace, with the crates of the workspace that it depends on when it is built: its
/// tests alone may use what is made for tests.
fn crates() -> BTreeMap<String, BTreeSet<String>> {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--no-deps", "--offline", "--format-version", "1"])
        .current_dir(root())
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let metadata: Value = serde_json::from_slice(&output.stdout).unwrap();
    let name = |value: &Value| value.get("name").unwrap().as_str().unwrap().to_owned();
    let list = |value: &Value, key: &str| value.get(key).unwrap().as_array().unwrap().clone();
    let packages = list(&metadata, "packages");
    let own: BTreeSet<String> = packages.iter().map(name).collect();
    let is_built = |it: &&Value| it.get("kind").is_some_and(Value::is_null);
    let depends = |package: &Value| {
        let dependencies = list(package, "dependencies");
        dependencies.iter().filter(is_built).map(name).filter(|it| own.contains(it)).collect()
    };
    packages.iter().map(|package| (name(package), depends(package))).collect()
}

#[test]
fn crates_depend_on_one_another_one_way_only() {
    let mut crates = crates();
    assert!(crates.remove("gudgeon-tests").is_some(), "no crate of tests");
    let allowed: BTreeMap<&str, BTreeSet<&str>> =
        ARROWS.into_iter().map(|(from, to)| (from, to.iter().copied().collect())).collect();
    let known: BTreeSet<&str> = crates.keys().map(String::as_str).collect();
    assert_eq!(known, allowed.keys().copied().collect());
    let wrong = |(from, to): (&String, &BTreeSet<String>)| {
        let allowed = allowed.get(from.as_str())?;
        let wrong: Vec<&str> =
            to.iter().map(String::as_str).filter(|to| !allowed.contains(to)).collect();
        (!wrong.is_empty()).then(|| format!("{from} must not depend on {}", wrong.join(", ")))
    };
    none(&crates.iter().filter_map(wrong).collect::<Vec<_>>());
}

/// The words between backticks, outside fenced blocks.
fn in_backticks(text: &str) -> BTreeSet<String> {
    let mut fenced = false;
    let mut found = BTreeSet::new();
    for line in text.lines() {
        if line.trim_start().starts_with("```") {
            fenced = !fenced;
        } else if !fenced {
            found.extend(line.split('`').skip(1).step_by(2).map(str::to_owned));
        }
    }
    found
}

#[test]
fn the_developers_guide_names_what_is_there_and_nothing_else() {
    let named = in_backticks(&read("DEVELOPERS.md"));
    let crates: BTreeSet<String> = crates().into_keys().collect();
    let folders: BTreeSet<String> = FOLDERS.iter().map(|name| format!("{name}/")).collect();
    let unnamed = crates.union(&folders).filter(|it| !named.contains(*it));
    let mut faults: Vec<String> =
        unnamed.map(|it| format!("in the tree, but not in DEVELOPERS.md: {it}")).collect();
    let ignored = ignored();
    for word in &named {
        let plain = |c: char| c.is_ascii_alphanumeric() || "-_./".contains(c);
        let is_crate = word.starts_with("gudgeon-") && word.chars().all(plain);
        let is_path = folders.iter().any(|it| word.starts_with(it)) && word.chars().all(plain);
        let known = crates.contains(word) || ignored.contains(word.trim_end_matches('/'));
        if (is_crate && !known) || (is_path && !root().join(word).exists()) {
            faults.push(format!("in DEVELOPERS.md, but not in the tree: {word}"));
        }
    }
    none(&faults);
}

#[test]
fn the_readme_begins_with_the_job_and_its_pictures_exist() {
    let readme = read("README.md");
    let first = readme.split("\n\n").find(|it| !it.trim().starts_with('#')).unwrap_or_default();
    assert!(first.split_whitespace().count() >= 30, "the first paragraph says too little: {first}");
    assert!(!first.contains(['!', '`', '|']), "the first paragraph is plain text: {first}");
    let pictures: Vec<&str> = readme
        .split("<img src=\"")
        .skip(1)
        .filter_map(|it| it.split_once('"').map(|it| it.0))
        .collect();
    assert!(!pictures.is_empty(), "no pictures");
    for picture in pictures {
        assert!(picture.starts_with("reports/gallery/"), "{picture} is not in reports/gallery");
        assert!(root().join(picture).is_file(), "{picture} does not exist");
    }
}

#[test]
fn migrations_are_numbered_and_can_be_undone() {
    let trees = names(&root().join("migrations"));
    assert!(trees.contains("sqlite"));
    let mut twins = BTreeSet::new();
    for tree in &trees {
        assert!(["sqlite", "postgres"].contains(&tree.as_str()), "migrations/{tree}");
        let steps = names(&root().join("migrations").join(tree));
        for (step, number) in steps.iter().zip(1..) {
            assert!(
                step.starts_with(&format!("{number:04}_"))
                    && step
                        .chars()
                        .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_'),
                "migrations/{tree}/{step}: expected {number:04}_words_in_lower_case"
            );
            let files = names(&root().join("migrations").join(tree).join(step));
            assert_eq!(
                files,
                BTreeSet::from(["down.sql".to_owned(), "up.sql".to_owned()]),
                "{step}"
            );
        }
        twins.insert(steps);
    }
    assert_eq!(twins.len(), 1, "the trees of migrations differ: {twins:?}");
}
