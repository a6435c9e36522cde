//! What is printed or taken along: the bench sheet, the drawing, tables and lines.

use std::collections::HashMap;
use std::sync::Arc;

use axum::body::Bytes;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use serde_json::{Map, Value, json};

use crate::draw::{SheetOptions, png, sheet};
use crate::export::{ExportFile, ExportOptions, PoseChoice, Separator, export};
use crate::rod::Halting;

use super::answering::{blocking, units_of};
use super::asking;
use super::calls::Desk;
use super::ending::EndsWith;
use super::session::{Now, Session};
use super::wrong::Wrong;

/// Pixels across a PNG: the long side of A4 at 300 dots an inch.
const PNG_WIDTH: u32 = 3508;
const CSV: &str = "text/csv; charset=utf-8";

/// What a call says behind its question mark.
pub(super) type Asked = HashMap<String, String>;

/// The bench sheet as PDF. Options are those of `sheet`: paper, units, change, date and the like; `of` is an earlier step.
pub(super) async fn bench_sheet(desk: Arc<Desk>, mut asked: Asked) -> Response {
    let halting = Arc::new(Halting::new());
    let _ends = EndsWith(Arc::clone(&halting));
    let show = asked.remove("show").is_some();
    let of = asked.remove("of");
    let options = options_of(asked);
    let made = blocking(move || {
        let now = step_of(&desk.session, of.as_deref())?;
        let bytes = asking::sheet(&now, desk.answers, &options, &halting)?;
        Ok((bytes, stem(&now)))
    });
    match made.await {
        Ok((bytes, stem)) => file(bytes, "application/pdf", &format!("{stem}-sheet.pdf"), show),
        Err(wrong) => wrong.into_response(),
    }
}

/// One table of the bench sheet for a spreadsheet: `ties.csv` and so on. Options are those of the sheet.
pub(super) async fn bench_table(desk: Arc<Desk>, name: String, mut asked: Asked) -> Response {
    let halting = Arc::new(Halting::new());
    let _ends = EndsWith(Arc::clone(&halting));
    let of = asked.remove("of");
    let options = options_of(asked);
    let made = blocking(move || {
        let now = step_of(&desk.session, of.as_deref())?;
        let tables = asking::sheet_tables(&now, desk.answers, &options, &halting)?;
        let names: Vec<&str> = tables.iter().map(|(name, _)| name.as_str()).collect();
        let cure = format!("there are {}", names.join(", "));
        let found = tables.into_iter().find(|(own, _)| *own == name);
        let (_, bytes) = found.ok_or_else(|| {
            Wrong::missing(format!("the bench sheet has no table \"{name}\"")).cure(cure)
        })?;
        Ok((bytes, format!("{}-{name}", stem(&now))))
    });
    match made.await {
        Ok((bytes, name)) => file(bytes, CSV, &name, false),
        Err(wrong) => wrong.into_response(),
    }
}

/// The present step, or the earlier one that is asked for: a harness that was lengthened since is cut by what it was.
fn step_of(session: &Session, rev: Option<&str>) -> Result<Now, Wrong> {
    let Some(rev) = rev else {
        return session.now();
    };
    let rev = rev.parse();
    session.step(rev.map_err(|_| Wrong::missing("a revision is a number"))?)
}

/// What stands behind the question mark, as options of the command line.
fn options_of(asked: Asked) -> Map<String, Value> {
    let one = |(name, value): (String, String)| match value.as_str() {
        "true" => (name, json!(true)),
        "false" => (name, json!(false)),
        // Several stand a line each.
        lines if lines.contains('\n') => (name, json!(lines.split('\n').collect::<Vec<_>>())),
        _ => (name, json!(value)),
    };
    asked.into_iter().map(one).collect()
}

/// The drawing: views, charts, findings on one sheet.
pub(super) async fn picture(desk: Arc<Desk>, asked: Asked, as_png: bool) -> Response {
    let show = asked.contains_key("show");
    let made = blocking(move || {
        let now = desk.session.now()?;
        let units = units_of(asked.get("units").map(String::as_str))?;
        let spread = asked.get("spread").map(String::as_str) != Some("no");
        let (route, solution) = (now.route()?, now.solution()?);
        let findings = now.findings(spread, units)?;
        let svg = sheet(&route, &solution, &findings, &SheetOptions { units });
        if as_png {
            let bytes = png(&svg, PNG_WIDTH).map_err(|error| Wrong::ours(error.to_string()))?;
            Ok((bytes, stem(&now)))
        } else {
            Ok((svg.into_bytes(), stem(&now)))
        }
    });
    let (kind, ending) = if as_png {
        ("image/png", "png")
    } else {
        ("image/svg+xml", "svg")
    };
    match made.await {
        Ok((bytes, stem)) => file(bytes, kind, &format!("{stem}.{ending}"), show),
        Err(wrong) => wrong.into_response(),
    }
}

/// The names of the tables and lines that there are.
pub(super) fn tables(session: &Session) -> Result<Value, Wrong> {
    session.now()?;
    Ok(json!({ "tables": ExportFile::ALL.map(ExportFile::name) }))
}

/// One table, or the lines.
pub(super) async fn table(desk: Arc<Desk>, name: String, asked: Asked) -> Response {
    let made = blocking(move || {
        let wanted = ExportFile::ALL.into_iter().find(|file| file.name() == name);
        let wanted =
            wanted.ok_or_else(|| Wrong::missing(format!("there is no table \"{name}\"")))?;
        let now = desk.session.now()?;
        let asked = |name: &str| asked.get(name).map(String::as_str);
        let units = units_of(asked("units"))?;
        let options = ExportOptions {
            units,
            poses: match asked("poses") {
                Some("all") => PoseChoice::All,
                Some("rest") => PoseChoice::Rest,
                _ => PoseChoice::Ends,
            },
            separator: match asked("separator") {
                Some("semicolon") => Separator::Semicolon,
                _ => Separator::Comma,
            },
            ..ExportOptions::default()
        };
        let (route, solution) = (now.route()?, now.solution()?);
        let findings = now.findings(true, units)?;
        let bytes = export(wanted, &route, &solution, &findings, &options);
        Ok((bytes, format!("{}-{}", stem(&now), wanted.name())))
    });
    match made.await {
        Ok((bytes, name)) => {
            let kind = if name.ends_with(".csv") {
                CSV
            } else {
                "application/octet-stream"
            };
            file(bytes, kind, &name, false)
        }
        Err(wrong) => wrong.into_response(),
    }
}

/// The opened file's name without its ending, in letters that a header takes.
fn stem(now: &Now) -> String {
    let path = std::path::Path::new(&now.file);
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let plain = stem.chars().map(|c| {
        let keeps = c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.' | ' ');
        if keeps { c } else { '_' }
    });
    plain.collect()
}

fn file(bytes: Vec<u8>, kind: &'static str, name: &str, show: bool) -> Response {
    let how = if show { "inline" } else { "attachment" };
    let headers = [
        (header::CONTENT_TYPE, kind.to_owned()),
        (
            header::CONTENT_DISPOSITION,
            format!("{how}; filename=\"{name}\""),
        ),
    ];
    (headers, Bytes::from(bytes)).into_response()
}
