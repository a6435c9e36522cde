//! The calls of the page, one row each.

use std::sync::Arc;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use serde::Deserialize;
use serde_json::{Value, json};

use crate::read::named_points;
use crate::rod::Halting;

use super::answering::{Asked, asked, blocking, told, units_of};
use super::asking::{Answers, Ask};
use super::ending::EndsWith;
use super::jobs::Jobs;
use super::session::{Session, Version};
use super::stream::lines;
use super::trying::{self, Try};
use super::wrong::Wrong;
use super::{assets, edits, posing, printing, report, scene, shapes, touching};

/// No call is larger \[byte\]: a route file fits, a scan does not.
const LARGEST: usize = 16 << 20;

/// What all calls share.
pub(super) struct Desk {
    pub(super) session: Session,
    pub(super) jobs: Jobs,
    pub(super) answers: Answers,
}

type App = State<Arc<Desk>>;

/// All calls, below the token.
pub(super) fn router(token: &str, desk: Arc<Desk>) -> Router {
    let at = |call: &str| format!("/{token}/{call}");
    Router::new()
        .route(&at(""), get(|| async { assets::page() }))
        .route(&at("desk/{*name}"), get(file))
        .route(&at("api/state"), get(state))
        .route(&at("api/examples"), get(examples))
        .route(&at("api/open"), post(open))
        .route(&at("api/text"), get(text))
        .route(&at("api/steps"), get(steps))
        .route(&at("api/scene"), get(scene_call))
        .route(&at("api/shapes"), get(shapes_call))
        .route(&at("api/report"), get(report_call))
        .route(&at("api/edit"), post(edit))
        .route(&at("api/try"), post(try_call))
        .route(&at("api/pose"), get(pose))
        .route(&at("api/touch"), get(touch))
        .route(&at("api/undo"), post(undo))
        .route(&at("api/redo"), post(redo))
        .route(&at("api/undo_to"), post(undo_to))
        .route(&at("api/save"), post(save))
        .route(&at("api/take_disk"), post(take_disk))
        .route(&at("api/sheet.pdf"), get(sheet))
        .route(&at("api/sheet/{name}"), get(sheet_table))
        .route(&at("api/picture.svg"), get(picture_svg))
        .route(&at("api/picture.png"), get(picture_png))
        .route(&at("api/tables"), get(tables))
        .route(&at("api/tables/{name}"), get(table))
        .route(&at("api/ask"), post(ask))
        .route(&at("api/jobs"), get(jobs))
        .route(&at("api/job/{id}"), get(job))
        .route(&at("api/job/{id}/cancel"), post(cancel))
        .fallback(|| async { Wrong::missing("there is nothing here").into_response() })
        .method_not_allowed_fallback(|| async {
            Wrong::asked("this call is asked the other way, GET or POST").into_response()
        })
        .with_state(desk)
        .layer(DefaultBodyLimit::max(LARGEST))
}

/// An answer as JSON, worked out on a thread that may block.
async fn answer(
    desk: Arc<Desk>,
    work: impl FnOnce(&Session) -> Result<Value, Wrong> + Send + 'static,
) -> Response {
    told(blocking(move || work(&desk.session)).await)
}

/// `?units=inch`, `?spread=no`.
#[derive(Debug, Default, Deserialize)]
struct Wanted {
    units: Option<String>,
    spread: Option<String>,
}

async fn file(Path(name): Path<String>) -> Response {
    assets::asset(&name)
}

async fn state(State(desk): App) -> Response {
    answer(desk, |session| Ok(session.state())).await
}

async fn examples(State(desk): App) -> Response {
    answer(desk, |session| Ok(session.offers())).await
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Open {
    example: Option<String>,
    file: Option<String>,
    #[serde(default)]
    blank: bool,
}

async fn open(State(desk): App, body: Asked) -> Response {
    answer(desk, move |session| {
        let open: Open = asked(body)?;
        match (open.example, open.file, open.blank) {
            (Some(name), None, false) => session.open_example(&name)?,
            (None, Some(name), false) => session.open_file(&name)?,
            (None, None, true) => session.open_blank(),
            _ => return Err(Wrong::asked("name one: an example, a file, or blank")),
        }
        Ok(session.state())
    })
    .await
}

async fn text(State(desk): App) -> Response {
    answer(desk, |session| {
        let version = session.now()?;
        Ok(json!({ "rev": version.rev, "text": &*version.text }))
    })
    .await
}

async fn steps(State(desk): App) -> Response {
    answer(desk, Session::steps).await
}

async fn scene_call(State(desk): App, Query(wanted): Query<Wanted>) -> Response {
    answer(desk, move |session| {
        let version = session.now()?;
        let route = version.route()?;
        let points = named_points(&version.text, &version.file)?;
        let units = units_of(wanted.units.as_deref())?;
        Ok(scene::scene(
            &route,
            &version.text,
            &points,
            version.rev,
            units,
        ))
    })
    .await
}

async fn shapes_call(State(desk): App) -> Response {
    answer(desk, |session| {
        let version = session.now()?;
        let (route, solution) = (version.route()?, version.solution()?);
        Ok(shapes::shapes(&route, &solution, version.rev))
    })
    .await
}

async fn report_call(State(desk): App, Query(wanted): Query<Wanted>) -> Response {
    answer(desk, move |session| {
        let version = session.now()?;
        let spread = wanted.spread.as_deref() != Some("no");
        let units = units_of(wanted.units.as_deref())?;
        let (route, solution) = (version.route()?, version.solution()?);
        let findings = version.findings(spread, units)?;
        Ok(report::told(
            &route,
            &solution,
            &findings,
            version.rev,
            spread,
        ))
    })
    .await
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Edit {
    rev: u64,
    edits: Vec<Value>,
    says: Option<String>,
    units: Option<String>,
}

async fn edit(State(desk): App, body: Asked) -> Response {
    answer(desk, move |session| {
        let edit: Edit = asked(body)?;
        let version = session.now()?;
        if version.rev != edit.rev {
            return Err(session.stale());
        }
        let units = units_of(edit.units.as_deref())?;
        let edited = edits::edited(&version.text, &version.file, &edit.edits, units)?;
        session.may_name(&edited.text)?;
        // Who writes the text may leave it in the middle; what a field or a button would break is refused with the reason.
        let written = edit.edits.iter().any(|one| one.get("text").is_some());
        if !written && version.route().is_ok() {
            let next = Arc::new(Version::new(
                edited.text.clone().into(),
                version.file.clone(),
            ));
            next.route()?;
            session.remember(&next);
        }
        let says = edit
            .says
            .filter(|says| !says.is_empty() && says.len() <= 200);
        session.push(edit.rev, &says.unwrap_or(edited.says), edited.text)?;
        Ok(session.state())
    })
    .await
}

async fn undo(State(desk): App, body: Asked) -> Response {
    answer(desk, move |session| {
        let _nothing: Value = asked(body)?;
        session.go(-1)?;
        Ok(session.state())
    })
    .await
}

async fn redo(State(desk): App, body: Asked) -> Response {
    answer(desk, move |session| {
        let _nothing: Value = asked(body)?;
        session.go(1)?;
        Ok(session.state())
    })
    .await
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct To {
    rev: u64,
}

async fn undo_to(State(desk): App, body: Asked) -> Response {
    answer(desk, move |session| {
        let to: To = asked(body)?;
        session.go_to(to.rev)?;
        Ok(session.state())
    })
    .await
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Save {
    rev: Option<u64>,
    #[serde(rename = "as")]
    to: Option<String>,
    #[serde(default)]
    over: bool,
}

async fn save(State(desk): App, body: Asked) -> Response {
    answer(desk, move |session| {
        let save: Save = asked(body)?;
        session.save(save.rev, save.to.as_deref(), save.over)?;
        Ok(session.state())
    })
    .await
}

async fn take_disk(State(desk): App, body: Asked) -> Response {
    answer(desk, move |session| {
        let at: To = asked(body)?;
        session.take_disk(at.rev)?;
        Ok(session.state())
    })
    .await
}

async fn try_call(State(desk): App, body: Asked) -> Response {
    let asked: Try = match asked(body) {
        Ok(asked) => asked,
        Err(wrong) => return wrong.into_response(),
    };
    let halting = desk.session.try_anew();
    let ends = Arc::clone(&halting);
    lines(ends, move |teller| {
        trying::tried(&desk.session, &halting, &asked, teller)
    })
}

async fn pose(State(desk): App, Query(wanted): Query<posing::Values>) -> Response {
    let halting = Arc::new(Halting::new());
    // Whoever turned on meanwhile has cut off this call.
    let _ends = EndsWith(Arc::clone(&halting));
    answer(desk, move |session| {
        posing::posed(session, &wanted, &halting)
    })
    .await
}

async fn touch(State(desk): App, Query(asked): Query<touching::Asked>) -> Response {
    answer(desk, move |session| touching::touched(session, &asked)).await
}

async fn ask(State(desk): App, body: Asked) -> Response {
    let begun = asked(body).and_then(|ask: Ask| desk.jobs.begin(&desk.session, desk.answers, ask));
    told(begun)
}

async fn jobs(State(desk): App) -> Response {
    told(Ok(desk.jobs.listed(&desk.session)))
}

async fn job(State(desk): App, Path(id): Path<u64>) -> Response {
    match desk.jobs.listen(id) {
        Ok(lines) => lines,
        Err(wrong) => wrong.into_response(),
    }
}

async fn cancel(State(desk): App, Path(id): Path<u64>) -> Response {
    told(desk.jobs.cancel(id))
}

async fn sheet(State(desk): App, Query(asked): Query<printing::Asked>) -> Response {
    printing::bench_sheet(desk, asked).await
}

async fn sheet_table(
    State(desk): App,
    Path(name): Path<String>,
    Query(asked): Query<printing::Asked>,
) -> Response {
    printing::bench_table(desk, name, asked).await
}

async fn picture_svg(State(desk): App, Query(asked): Query<printing::Asked>) -> Response {
    printing::picture(desk, asked, false).await
}

async fn picture_png(State(desk): App, Query(asked): Query<printing::Asked>) -> Response {
    printing::picture(desk, asked, true).await
}

async fn tables(State(desk): App) -> Response {
    answer(desk, printing::tables).await
}

async fn table(
    State(desk): App,
    Path(name): Path<String>,
    Query(asked): Query<printing::Asked>,
) -> Response {
    printing::table(desk, name, asked).await
}
