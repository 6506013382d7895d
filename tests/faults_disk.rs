//! The real program on a disk that fills up, and on one that becomes read-only: clients are asked to come
//! back, nothing answered is lost, and it goes on by itself once the disk takes writes again.

#![cfg(test)]

use gudgeon_databases::{Database, Folder};
use gudgeon_store::Store;
use gudgeon_tests::NOW;
use gudgeon_tests::load::{Random, Sequential, posts, prepare};
use gudgeon_tests::site::{Client, Reply, Site};
use serde_json::Value;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::mpsc::{self, Sender};
use std::thread::{self, JoinHandle};

/// A small disk of its own, gone when this is.
struct Disk(Folder);

impl Disk {
    fn new() -> Self {
        let folder = Folder::new();
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", "size=16m", "gudgeon-test"]).arg(folder.path());
        let output = mount.output().expect("`mount` is installed");
        assert!(
            output.status.success(),
            "this test mounts a small disk, for which it has to be run as root: {output:?}"
        );
        Self(folder)
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn url(&self) -> String {
        format!("sqlite:{}", self.path("fleet.db").display())
    }

    /// Fills the disk but for this many bytes.
    fn fill(&self, bytes_left: usize) {
        let mut filler = File::create(self.path("filler")).unwrap();
        while filler.write_all(&[0; 4096]).is_ok() {}
        let length = filler.metadata().unwrap().len();
        filler.set_len(length - u64::try_from(bytes_left).unwrap().min(length)).unwrap();
    }

    fn empty(&self) {
        fs::remove_file(self.path("filler")).unwrap();
    }

    fn remount(&self, how: &str) {
        let status = Command::new("mount")
            .args(["-o", &format!("remount,{how}")])
            .arg(self.0.path())
            .status();
        assert!(status.unwrap().success());
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        // Whatever still holds it open, it is out of the way.
        let _ = Command::new("umount").arg("-l").arg(self.0.path()).status();
    }
}

fn migrate(url: &str) {
    Store::open(url, true).unwrap().migrate().unwrap();
}

/// Posts one after the other, and remembers which are kept.
struct Posting {
    client: Client,
    posts: Vec<(String, Value)>,
    next: usize,
    sequential: Sequential,
}

impl Posting {
    fn new(client: Client) -> Self {
        prepare(&client);
        Self { client, posts: posts(80), next: 0, sequential: Sequential::new() }
    }

    /// Posts once; false when it is asked to come back, and the next call sends the same again.
    fn post(&mut self) -> bool {
        let post = &self.posts[self.next];
        let reply = self.client.put(&post.0, &post.1).expect("an answer");
        if is_come_back(&reply) {
            return false;
        }
        assert_eq!(reply.status, 201, "{reply:?}");
        self.sequential.tell(post);
        self.next += 1;
        true
    }

    /// While the disk takes nothing: everybody is asked to come back, and what is there can be read.
    fn check_refused(&mut self) {
        for _ in 0..3 {
            assert!(!self.post());
        }
        assert_eq!(self.client.get("/livez").map(|reply| reply.status), Some(200));
        let fleet = self.client.get("/v1/engines").expect("an answer");
        assert!(fleet.status == 200 || is_come_back(&fleet), "{fleet:?}");
    }

    /// All that was answered is there when the service is started once more.
    fn check_after_start(&self, site: &Site, url: &str) {
        let serving = site.serve();
        let store = Store::open(url, false).unwrap();
        self.sequential.compare(&self.client, &store).unwrap();
        drop(serving);
    }
}

/// RFC 9110 section 10.2.3: a number of seconds.
fn is_come_back(reply: &Reply) -> bool {
    reply.status == 503 && reply.retry_after.is_some_and(|seconds| (1..60).contains(&seconds))
}

#[test]
fn a_full_disk_asks_everybody_to_come_back_and_loses_nothing() {
    let disk = Disk::new();
    let url = disk.url();
    migrate(&url);
    let site = Site::new(&url);
    let key = site.operator_key();
    let serving = site.serve();
    let mut posting = Posting::new(site.client(&key));
    let mut random = Random(1);
    for round in 0..8 {
        for _ in 0..5 {
            assert!(posting.post(), "round {round}");
        }
        // With some room left, so that it runs out at another step each time.
        disk.fill(random.below(120_000));
        let taken = (0..50).take_while(|_| posting.post()).count();
        assert!(taken < 50, "the disk is never full");
        posting.check_refused();
        disk.empty();
        assert!(posting.post(), "round {round}: it goes on without a restart");
        let store = Store::open(&url, false).unwrap();
        posting.sequential.compare(&posting.client, &store).unwrap();
    }
    serving.kill();
    posting.check_after_start(&site, &url);
}

/// A backup that stops at its first records until this is dropped, and so looks at one moment: what is written since
/// then stays in the log.
struct Reader {
    go_on: Option<Sender<()>>,
    backup: Option<JoinHandle<()>>,
}

impl Reader {
    fn new(store: Store) -> Self {
        let (began, has_begun) = mpsc::channel();
        let (go_on, goes_on) = mpsc::channel();
        let backup = thread::spawn(move || {
            let mut stop = |_| {
                let _ = began.send(());
                // Once nobody can say so any more, it goes on.
                let _ = goes_on.recv();
            };
            store.backup(&mut io::sink(), NOW, &mut stop).expect("a backup");
        });
        has_begun.recv().expect("it reads records");
        Self { go_on: Some(go_on), backup: Some(backup) }
    }
}

impl Drop for Reader {
    fn drop(&mut self) {
        drop(self.go_on.take());
        let ended = self.backup.take().map(JoinHandle::join);
        assert!(ended.is_some_and(|ended| ended.is_ok()), "the backup is whole");
    }
}

// From 1,000 pages of 4,096 bytes on, each with a header of 24 (https://www.sqlite.org/fileformat2.html, section 4.1),
// every commit tries to copy the log into the file, which has to grow for it: by all of a photograph that is in the log.
#[test]
fn a_disk_without_room_for_a_checkpoint_loses_nothing() {
    let disk = Disk::new();
    let url = disk.url();
    migrate(&url);
    let site = Site::new(&url);
    let serving = site.serve();
    let mut posting = Posting::new(site.client(&site.operator_key()));
    let (file, log) = (disk.path("fleet.db"), disk.path("fleet.db-wal"));
    let store = Store::open(&url, false).unwrap();
    let reader = Reader::new(store.clone());
    store.put_photo(&vec![7; 5 << 20], None, NOW).unwrap();
    assert!(posting.post());
    assert!(log.metadata().unwrap().len() > 1_000 * 4_120);
    disk.fill(500_000);
    let copied = || (file.metadata().unwrap().modified().unwrap(), file.metadata().unwrap().len());
    let before = copied();
    drop(reader);
    let taken = (0..30).take_while(|_| posting.post()).count();
    assert!((1..30).contains(&taken), "{taken} posts were kept beside a checkpoint that fails");
    let tried = copied();
    assert!(before.0 < tried.0, "no checkpoint was tried");
    posting.check_refused();
    disk.empty();
    assert!(posting.post(), "it goes on without a restart");
    assert!(tried.1 + (4 << 20) < copied().1, "the file holds the photograph by now");
    posting.sequential.compare(&posting.client, &store).unwrap();
    serving.kill();
    posting.check_after_start(&site, &url);
}

/// A disk cannot be made read-only under a program that writes to it except by failing, so a library
/// answers the program's writes as the system does then.
#[test]
fn a_disk_that_becomes_read_only_asks_everybody_to_come_back_and_loses_nothing() {
    let database = Database::sqlite(migrate);
    let folder = database.folder().canonicalize().unwrap();
    let switch = folder.join("read-only");
    let site = Site::new(database.url());
    let library = read_only_library(site.dir());
    let key = site.operator_key();
    let mut command = site.command(&["serve"]);
    command.env("LD_PRELOAD", library);
    command.env("READ_ONLY_FOLDER", &folder).env("READ_ONLY_SWITCH", &switch);
    let serving = site.serve_by(&mut command);
    let mut posting = Posting::new(site.client(&key));
    for round in 0..5 {
        for _ in 0..10 {
            assert!(posting.post(), "round {round}");
        }
        File::create(&switch).unwrap();
        posting.check_refused();
        fs::remove_file(&switch).unwrap();
        assert!(posting.post(), "round {round}: it goes on without a restart");
        let store = Store::open(database.url(), false).unwrap();
        posting.sequential.compare(&posting.client, &store).unwrap();
    }
    drop(serving);
}

/// Compiles `read_only.c`.
fn read_only_library(folder: &Path) -> PathBuf {
    let source = folder.join("read_only.c");
    fs::write(&source, include_str!("read_only.c")).unwrap();
    let library = folder.join("read_only.so");
    let mut compile = Command::new("cc");
    compile
        .args(["-shared", "-fPIC", "-Wall", "-Werror", "-o"])
        .arg(&library)
        .arg(&source)
        .arg("-ldl");
    let output = compile.output().expect("a C compiler is installed");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    library
}

#[test]
fn a_service_does_not_begin_on_a_read_only_disk_and_says_which_file_it_is() {
    let disk = Disk::new();
    migrate(&disk.url());
    let site = Site::new(&disk.url());
    disk.remount("ro");
    let refused = site.run(&["serve"]);
    let said = String::from_utf8_lossy(&refused.stderr);
    assert_eq!(refused.status.code(), Some(1), "{said}");
    let file = disk.path("fleet.db").display().to_string();
    assert!(said.contains(&file) && said.lines().count() == 1, "{said}");
    disk.remount("rw");
    drop(site.serve());
}
