//! What comes back, by mails written after the examples of the standards: `tests/vectors/bounces`.

use super::*;
use std::fs;
use std::path::Path;

const TAG: &str = "0a1b2c3d4e5f60718293";

fn returns() -> Address {
    "bounces@example.org".parse().expect("an address")
}

#[test]
fn every_kind_of_answer_is_told_from_the_others() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/vectors/bounces");
    let expected = fs::read_to_string(folder.join("expected.tsv")).expect("it is there");
    let mut seen = 0;
    for row in expected.lines() {
        let [file, expected, why] = row.split('\t').collect::<Vec<_>>()[..] else {
            panic!("{row}")
        };
        let mail = fs::read(folder.join(file)).expect(file);
        // As a mail server writes its lines, and as a system does.
        let lines = String::from_utf8(mail.clone()).expect("UTF-8").replace('\n', "\r\n");
        for mail in [&mail[..], lines.as_bytes()] {
            let read = match read(mail, &returns()) {
                Incoming::Failed { tag, permanent, status } => {
                    assert_eq!(tag, TAG, "{file}");
                    let class = if permanent { "permanent" } else { "transient" };
                    format!("{class} {status}")
                }
                Incoming::Nothing(_) => "nothing".to_owned(),
            };
            assert_eq!(read, expected, "{file}: {why}");
        }
        seen += 1;
    }
    let files = fs::read_dir(&folder).expect("a folder").count();
    assert_eq!(seen + 1, files, "each mail has its line");
}

#[test]
fn what_is_no_mail_says_nothing() {
    for bytes in [&b""[..], b"\0\xff\xfe", b"\r\n\r\n", b"To: <bounces+1-2@example.org>"] {
        assert!(matches!(read(bytes, &returns()), Incoming::Nothing(_)), "{bytes:?}");
    }
}
