//! The templates of the mails: compiled in, or an operator's own from a folder, with their styles inlined once.
//!
//! Mail programs want styles on the elements. The sheet stands in the `<style>` of `mail.html` alone, and is inlined
//! into the templates when they are read, not into each mail: the same bytes leave, and a mail costs its rendering
//! alone. What only some readers can have, such as a dark page, stays in `<style>`.
//!
//! Whoever changes an HTML template has to keep what belongs to templates between elements: `{% .. %}` stands where
//! a comment may, and an opening tag and its end stand on the same side of it.

use crate::render::RenderError;
use css_inline::CSSInliner;
use std::path::Path;

/// The skeleton, whose `<style>` holds the sheet.
const SKELETON: &str = "mail.html";

/// Every template by its file name. Those it begins with are used by those that follow.
const BUILT_IN: [(&str, &str); 16] = [
    (SKELETON, include_str!("../templates/mail.html")),
    ("mail.txt", include_str!("../templates/mail.txt")),
    ("sections.html", include_str!("../templates/sections.html")),
    ("sections.txt", include_str!("../templates/sections.txt")),
    ("owner.subject.txt", include_str!("../templates/owner.subject.txt")),
    ("owner.text.txt", include_str!("../templates/owner.text.txt")),
    ("owner.html", include_str!("../templates/owner.html")),
    ("quiet.subject.txt", include_str!("../templates/quiet.subject.txt")),
    ("quiet.text.txt", include_str!("../templates/quiet.text.txt")),
    ("quiet.html", include_str!("../templates/quiet.html")),
    ("shop.subject.txt", include_str!("../templates/shop.subject.txt")),
    ("shop.text.txt", include_str!("../templates/shop.text.txt")),
    ("shop.html", include_str!("../templates/shop.html")),
    ("inspector.subject.txt", include_str!("../templates/inspector.subject.txt")),
    ("inspector.text.txt", include_str!("../templates/inspector.text.txt")),
    ("inspector.html", include_str!("../templates/inspector.html")),
];

/// Stands around a piece of a page while styles are inlined, so that nothing of it is at the edge.
const WRAP: (&str, &str) = ("<div>", "</div>");

/// All templates with their styles inlined, each with its name. Files of the folder stand in for those compiled in.
///
/// # Errors
/// [`RenderError`] when a file of the folder has the name of none, cannot be read, or has styles that cannot be
/// inlined.
pub(crate) fn templates(folder: Option<&Path>) -> Result<Vec<(&'static str, String)>, RenderError> {
    if let Some(folder) = folder {
        only_known(folder)?;
    }
    let mut sources = Vec::new();
    for (name, built_in) in BUILT_IN {
        sources.push((name, own(folder, name)?.unwrap_or_else(|| built_in.to_owned())));
    }
    let sheet = sources.iter().find(|(name, _)| *name == SKELETON);
    let sheet = sheet.map(|(_, source)| sheet_of(source)).unwrap_or_default();
    let inlined = sources.into_iter().map(|(name, source)| match name {
        SKELETON => Ok((name, inline_page(name, &source)?)),
        name if is_html(name) => Ok((name, inline_piece(name, &source, &sheet)?)),
        name => Ok((name, source)),
    });
    inlined.collect()
}

fn is_html(name: &str) -> bool {
    Path::new(name).extension().is_some_and(|extension| extension == "html")
}

/// An operator's own version of a template, if there is one.
fn own(folder: Option<&Path>, name: &str) -> Result<Option<String>, RenderError> {
    let Some(path) = folder.map(|folder| folder.join(name)) else { return Ok(None) };
    match std::fs::read_to_string(&path) {
        Ok(source) => Ok(Some(source)),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(RenderError::Unreadable { path, error }),
    }
}

/// A file under a name that no template has would be taken for one that is used.
fn only_known(folder: &Path) -> Result<(), RenderError> {
    let unreadable = |error| RenderError::Unreadable { path: folder.to_owned(), error };
    for entry in std::fs::read_dir(folder).map_err(unreadable)? {
        let entry = entry.map_err(unreadable)?;
        let name = entry.file_name();
        if !BUILT_IN.iter().any(|(known, _)| name == *known) {
            let known = BUILT_IN.iter().map(|(known, _)| *known).collect::<Vec<_>>().join(", ");
            return Err(RenderError::NoTemplate { path: entry.path(), known });
        }
    }
    Ok(())
}

/// The rules of the skeleton's `<style>` that belong on elements: those before the first that depends on the reader.
fn sheet_of(skeleton: &str) -> String {
    let sheet = skeleton.split_once("<style>").map_or("", |(_, rest)| rest);
    let sheet = sheet.split_once("</style>").map_or(sheet, |(sheet, _)| sheet);
    sheet.split_once('@').map_or(sheet, |(plain, _)| plain).to_owned()
}

fn inline_page(name: &str, source: &str) -> Result<String, RenderError> {
    let (page, hidden) = hide(source);
    let inliner = CSSInliner::options().load_remote_stylesheets(false).keep_at_rules(true).build();
    let page = inliner.inline(&page).map_err(|error| RenderError::styles(name, &error))?;
    Ok(show(&page, &hidden))
}

fn inline_piece(name: &str, source: &str, sheet: &str) -> Result<String, RenderError> {
    let (piece, hidden) = hide(source);
    let inliner = CSSInliner::options().load_remote_stylesheets(false).build();
    let piece = inliner
        .inline_fragment(&format!("{}{piece}{}", WRAP.0, WRAP.1), sheet)
        .map_err(|error| RenderError::styles(name, &error))?;
    let piece = piece.trim();
    let bare = piece.strip_prefix(WRAP.0).and_then(|rest| rest.strip_suffix(WRAP.1));
    Ok(show(bare.unwrap_or(piece), &hidden))
}

/// With a comment in place of each `{% .. %}`: an HTML parser leaves comments where they are, and moves text out of
/// tables.
fn hide(source: &str) -> (String, Vec<&str>) {
    let (mut page, mut hidden, mut rest) = (String::new(), Vec::new(), source);
    while let Some(at) = rest.find("{%") {
        let (before, tag) = rest.split_at(at);
        let Some(end) = tag.find("%}") else { break };
        let (tag, after) = tag.split_at(end + "%}".len());
        page.push_str(before);
        page.push_str(&placeholder(hidden.len()));
        hidden.push(tag);
        rest = after;
    }
    page.push_str(rest);
    (page, hidden)
}

fn show(page: &str, hidden: &[&str]) -> String {
    let shown = hidden.iter().enumerate();
    shown.fold(page.to_owned(), |page, (at, tag)| page.replacen(&placeholder(at), tag, 1))
}

fn placeholder(at: usize) -> String {
    format!("<!--template tag {at}-->")
}

#[cfg(test)]
mod tests {
    use super::*;

    // Inlined by hand: both rules stand on the element, the more specific one last (CSS 2.1, section 6.4.3), and the
    // tags of the template are where they were.
    #[test]
    fn styles_go_onto_elements_and_tags_stay() {
        let sheet = ".a { color: #123456; } td { padding: 0; }";
        let source = "{% for x in y %}<table><tbody>{% if x %}<tr><td class=\"a\">{{ x }}</td></tr>{% endif %}</tbody></table>{% endfor %}";
        let piece = inline_piece("x.html", source, sheet).expect("inlined");
        assert_eq!(
            piece,
            "{% for x in y %}<table><tbody>{% if x %}<tr><td class=\"a\" style=\"padding: 0;color: #123456;\">{{ x }}</td></tr>{% endif %}</tbody></table>{% endfor %}"
        );
    }

    #[test]
    fn what_depends_on_the_reader_stays_in_the_sheet() {
        let all = templates(None).expect("templates");
        let page = |name: &str| {
            all.iter().find(|(known, _)| *known == name).map(|(_, it)| it.as_str()).expect(name)
        };
        let skeleton = page(SKELETON);
        assert!(skeleton.contains("prefers-color-scheme: dark"), "{skeleton}");
        assert!(!skeleton.contains(".remark { margin"), "{skeleton}");
        for (name, source) in &all {
            assert!(!source.contains("template tag"), "{name}: {source}");
        }
        for name in ["owner.html", "sections.html"] {
            assert!(page(name).contains("style=\""), "{name}");
            assert!(!page(name).contains("<style"), "{name}");
        }
    }

    #[test]
    fn an_operators_own_stand_in_and_strange_names_are_refused() {
        let folder = std::env::temp_dir().join(format!("gudgeon-templates-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder");
        std::fs::write(folder.join("owner.subject.txt"), "Our engines").expect("written");
        let found = templates(Some(&folder)).expect("templates");
        assert!(found.contains(&("owner.subject.txt", "Our engines".to_owned())));
        std::fs::write(folder.join("owner.txt"), "").expect("written");
        let wrong = templates(Some(&folder)).expect_err("no such template").to_string();
        assert!(wrong.contains("owner.txt") && wrong.contains("owner.text.txt"), "{wrong}");
        std::fs::remove_dir_all(&folder).expect("removed");
    }
}
