//! Lines of scan files that are text: never more than one line is looked at, whatever letters it is in.

use std::borrow::Cow;

use super::soup::ScanFault;

/// The lines with their numbers from 1; letters of other encodings are replaced, since only comments and names have
/// them.
pub(super) fn lines(bytes: &[u8]) -> impl Iterator<Item = (usize, Cow<'_, str>)> {
    bytes.split(|&b| b == b'\n' || b == b'\r').scan(
        (1, None),
        move |(line, _): &mut (usize, Option<()>), text| {
            let this = *line;
            // A \r\n counts once: the part between its two is empty and is followed by \n.
            let end = text.as_ptr_range().end as usize - bytes.as_ptr() as usize;
            let is_pair = bytes.get(end) == Some(&b'\r') && bytes.get(end + 1) == Some(&b'\n');
            *line += usize::from(!is_pair);
            Some((this, String::from_utf8_lossy(text)))
        },
    )
}

/// The three numbers after the first word of a line.
pub(super) fn three(words: &str, line: usize) -> Result<[f64; 3], ScanFault> {
    let mut words = words.split_ascii_whitespace().skip(1);
    let mut next = || number(words.next().unwrap_or_default(), line);
    Ok([next()?, next()?, next()?])
}

/// One number.
pub(super) fn number(word: &str, line: usize) -> Result<f64, ScanFault> {
    word.parse().map_err(|_| {
        let seen = short(word);
        ScanFault::damaged(match seen.is_empty() {
            true => format!("line {line}: a number is missing"),
            false => format!("line {line}: \"{seen}\" is not a number"),
        })
    })
}

/// The beginning of a word, for a message.
pub(super) fn short(word: &str) -> String {
    word.chars().filter(|c| !c.is_control()).take(20).collect()
}
