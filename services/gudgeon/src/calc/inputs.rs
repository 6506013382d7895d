//! Cutting standard input into JSON texts: one a line, or one over several lines, and never one bad text
//! taking the good ones after it along.

use std::collections::VecDeque;
use std::io::{self, BufRead, Read};

/// The most bytes of one text; a sum needs a few hundred.
pub(super) const TEXT_BYTES_MAX: usize = 1 << 20;
/// The byte order mark that some editors put before UTF-8.
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// One text, as it came.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Input {
    /// To be read as JSON.
    Text(Vec<u8>),
    /// Longer than any input can be; what it held is dropped.
    TooLarge,
}

/// The texts of a stream, in its order.
pub(super) struct Inputs<R> {
    source: R,
    /// Lines that were read ahead and belong to later texts.
    ahead: VecDeque<Vec<u8>>,
    started: bool,
}

impl<R: BufRead> Inputs<R> {
    pub(super) const fn new(source: R) -> Self {
        Self { source, ahead: VecDeque::new(), started: false }
    }

    /// The next text; `None` at the end. A text ends with the line that closes its last bracket.
    pub(super) fn next(&mut self) -> io::Result<Option<Input>> {
        let mut lines: Vec<Vec<u8>> = Vec::new();
        let mut bytes = 0;
        let mut scan = Scan::default();
        while let Some(line) = self.line()? {
            if lines.is_empty() && line.trim_ascii().is_empty() {
                continue;
            }
            let state = scan.line(&line);
            bytes += line.len();
            lines.push(line);
            match state {
                State::Whole => return Ok(Some(text(&lines))),
                State::Open if bytes <= TEXT_BYTES_MAX => {}
                State::Open | State::Broken => return Ok(Some(self.cut(lines))),
            }
        }
        Ok(if lines.is_empty() { None } else { Some(self.cut(lines)) })
    }

    /// A broken text ends before the next line that begins with a bracket in its first column, where only a
    /// new text would begin; the lines from there on are read again.
    fn cut(&mut self, mut lines: Vec<Vec<u8>>) -> Input {
        let next = lines.iter().skip(1).position(|line| line.starts_with(b"{"));
        if let Some(after_first) = next {
            for line in lines.drain(after_first + 1..).rev() {
                self.ahead.push_front(line);
            }
        }
        text(&lines)
    }

    /// The next line with its line break; of one that is too long, only the beginning.
    fn line(&mut self) -> io::Result<Option<Vec<u8>>> {
        if let Some(line) = self.ahead.pop_front() {
            return Ok(Some(line));
        }
        let mut line = Vec::new();
        let limit = u64::try_from(TEXT_BYTES_MAX + 1).unwrap_or(u64::MAX);
        self.source.by_ref().take(limit).read_until(b'\n', &mut line)?;
        if line.len() > TEXT_BYTES_MAX && !line.ends_with(b"\n") {
            self.source.skip_until(b'\n')?;
        }
        if !self.started && line.starts_with(BYTE_ORDER_MARK) {
            line.drain(..BYTE_ORDER_MARK.len());
        }
        self.started = true;
        Ok(if line.is_empty() { None } else { Some(line) })
    }
}

fn text(lines: &[Vec<u8>]) -> Input {
    let text = lines.concat();
    if text.len() > TEXT_BYTES_MAX { Input::TooLarge } else { Input::Text(text) }
}

/// How a text stands at the end of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// Every bracket is closed.
    Whole,
    /// Some bracket is open.
    Open,
    /// No further line can make it JSON.
    Broken,
}

/// The brackets of a text so far. Whether the text is JSON is for the reader to say.
#[derive(Default)]
struct Scan {
    /// The closing brackets still to come, outermost first.
    closers: Vec<u8>,
}

impl Scan {
    fn line(&mut self, line: &[u8]) -> State {
        let mut in_string = false;
        let mut escaped = false;
        for byte in line {
            match byte {
                _ if escaped => escaped = false,
                b'\\' if in_string => escaped = true,
                b'"' => in_string = !in_string,
                _ if in_string => {}
                b'{' => self.closers.push(b'}'),
                b'[' => self.closers.push(b']'),
                b'}' | b']' if self.closers.pop() != Some(*byte) => return State::Broken,
                _ => {}
            }
        }
        // A string of JSON cannot hold a line break.
        if in_string {
            State::Broken
        } else if self.closers.is_empty() {
            State::Whole
        } else {
            State::Open
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(stream: &str) -> Vec<String> {
        let mut inputs = Inputs::new(stream.as_bytes());
        let mut found = Vec::new();
        while let Some(input) = inputs.next().expect("memory can be read") {
            found.push(match input {
                Input::Text(text) => String::from_utf8_lossy(&text).trim().to_owned(),
                Input::TooLarge => "too large".to_owned(),
            });
        }
        found
    }

    #[test]
    fn one_a_line_or_one_over_several() {
        assert_eq!(texts("{\"a\":1}\r\n\n{\"a\":2}"), ["{\"a\":1}", "{\"a\":2}"]);
        assert_eq!(texts("{\n \"a\": [\n  1\n ]\n}\n{\"a\":2}\n").len(), 2);
        assert_eq!(texts("\u{feff}{}"), ["{}"]);
        assert_eq!(texts("{\"}\\\"\":1}\n{}").len(), 2);
        assert_eq!(texts("  \n\n"), Vec::<String>::new());
    }

    #[test]
    fn a_broken_text_does_not_take_good_ones_along() {
        for broken in [
            "{\"a\":\"1",
            "{\"a\":1",
            "{\"a\":",
            "{\"a\":[1}",
            "{\"a\":1}}",
            "nothing",
            "]",
            "{\n \"a\":",
        ] {
            let found = texts(&format!("{{}}\n{broken}\n{{\"b\":2}}\n{{\n\"c\":3\n}}\n"));
            assert_eq!(found, ["{}", broken, "{\"b\":2}", "{\n\"c\":3\n}"], "{broken}");
        }
    }

    #[test]
    fn a_huge_text_is_dropped_and_the_next_one_read() {
        let huge = "7".repeat(3 * TEXT_BYTES_MAX);
        assert_eq!(texts(&format!("{{\"a\":{huge}}}\n{{}}\n")), ["too large", "{}"]);
        let lines = "{\"a\":\n".to_owned() + &" \n".repeat(TEXT_BYTES_MAX);
        assert_eq!(texts(&format!("{lines}{{}}\n")).last().map(String::as_str), Some("{}"));
    }
}
