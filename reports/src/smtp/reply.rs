//! What a mail server answers: a code, and words of which the first may be an enhanced status code.

use crate::hand_over::Reply;
use gudgeon_life::words::clean;

/// The longest words kept of an answer, in characters.
const WORDS_CHARS: usize = 300;

/// Reads one line of an answer: its code, whether more lines follow, and its text (RFC 5321, section 4.2).
pub(super) fn line(line: &str) -> Option<(u16, bool, &str)> {
    let (code, rest) = line.split_at_checked(3)?;
    let digits = code.bytes().all(|it| it.is_ascii_digit());
    let code: u16 = code.parse().ok().filter(|code| digits && (200..600).contains(code))?;
    match rest.as_bytes().first() {
        None => Some((code, false, "")),
        Some(b' ') => Some((code, false, rest.get(1..)?)),
        Some(b'-') => Some((code, true, rest.get(1..)?)),
        Some(_) => None,
    }
}

/// The answer of these lines, which share a code. An enhanced status code is told once, whichever lines have it.
pub(super) fn reply(code: u16, lines: &[String]) -> Reply {
    let mut enhanced = None;
    let mut words = Vec::new();
    for line in lines {
        let (first, rest) = line.split_once(' ').unwrap_or((line, ""));
        if is_enhanced(first, code) {
            enhanced.get_or_insert_with(|| first.to_owned());
            words.push(rest);
        } else {
            words.push(line);
        }
    }
    Reply { code: Some(code), enhanced, words: clean(&words.join(" "), WORDS_CHARS) }
}

/// Whether this is a code of RFC 3463 of the same class as the answer.
fn is_enhanced(word: &str, code: u16) -> bool {
    let parts: Vec<&str> = word.split('.').collect();
    let digits =
        |part: &&str| (1..=3).contains(&part.len()) && part.bytes().all(|it| it.is_ascii_digit());
    parts.len() == 3
        && parts.iter().all(digits)
        && parts.first() == Some(&(code / 100).to_string().as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    // The examples of RFC 5321, sections 4.2 and 4.3.2, and of RFC 2034, section 5.
    #[test]
    fn lines_are_read_as_the_standards_write_them() {
        assert_eq!(line("250 OK"), Some((250, false, "OK")));
        assert_eq!(line("250-foo.com greets bar.com"), Some((250, true, "foo.com greets bar.com")));
        assert_eq!(line("250"), Some((250, false, "")));
        for wrong in ["", "25", "25x no", "2500 no", "+25 no", "199 no", "600 no", "é50 no"] {
            assert_eq!(line(wrong), None, "{wrong}");
        }
        let lines = ["5.7.1 Client host refused", "5.7.1 for reasons"].map(str::to_owned);
        let read = reply(550, &lines);
        assert_eq!((read.code, read.enhanced.as_deref()), (Some(550), Some("5.7.1")));
        assert_eq!(read.words, "Client host refused for reasons");
        let other_class = reply(450, &["5.7.1 is not of its class".to_owned()]);
        assert_eq!(other_class.enhanced, None);
    }

    #[test]
    fn hostile_words_stay_short_and_in_one_line() {
        let read = reply(550, &[format!("\u{1b}[2J{}", "x".repeat(5000))]);
        assert!(read.words.chars().count() <= WORDS_CHARS && !read.words.contains('\u{1b}'));
    }
}
