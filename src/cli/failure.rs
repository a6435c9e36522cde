//! What stops a command, and the exit status that says so.

use std::io;
use std::path::PathBuf;

use crate::advise::StudyTableError;
use crate::draw::PngError;
use crate::page::PageError;
use crate::read::{EditError, Faults};
use crate::route::ChangeError;

/// Exit status where the input is wrong or the output cannot be written.
pub(super) const WRONG: u8 = 2;
/// Exit status where Ctrl-C came before anything was known: as of any program that it ends.
pub(super) const STOPPED: u8 = 130;

/// Why a command stopped.
#[derive(Debug, thiserror::Error)]
pub(super) enum Failure {
    #[error("{0}")]
    Faults(#[from] Faults),
    #[error("{}: there is such a file already, and it stays as it is\n    choose another name", .0.display())]
    Exists(PathBuf),
    #[error("{}: there is no folder \"{}\"\n    make the folder first, or choose another", path.display(), folder.display())]
    NoFolder { path: PathBuf, folder: PathBuf },
    #[error("{}: this is a folder, and a file is to be written\n    add a file name to it", .0.display())]
    Folder(PathBuf),
    #[error("{}: this is a file, and a folder is to be filled\n    choose another name", .0.display())]
    NoRoom(PathBuf),
    #[error(
        "{}: this name does not tell what to write\n    end it in .ply or .obj, or in shapes.csv, spans.csv, \
         findings.csv, charts_along.csv, charts_against.csv or poses.csv",
        .0.display()
    )]
    NoKind(PathBuf),
    #[error("{}: this name does not tell what to write\n    end it in .pdf, .svg or .png", .0.display())]
    NoSheet(PathBuf),
    #[error("there is no pose {id}: the last is {last}\n    poses.csv lists them all")]
    Pose { id: usize, last: usize },
    #[error("{}: cannot be written: {}\n    {}", path.display(), reason(source), cure(source))]
    Write { path: PathBuf, source: io::Error },
    #[error("{0}")]
    Readings(String),
    #[error("{0}")]
    Png(#[from] PngError),
    #[error("standard output cannot be written: {0}")]
    Print(#[from] io::Error),
    #[error("the report cannot be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
    #[error("{0}")]
    Question(String),
    #[error("there is no change \"{name}\"\n    {cure}")]
    NoChange { name: String, cure: String },
    #[error("the change cannot be made: {0}")]
    Change(#[from] ChangeError),
    #[error("{0}")]
    Edit(#[from] EditError),
    #[error("{0}")]
    Table(#[from] StudyTableError),
    #[error("nothing to compare with\n    give --change NAME, or a second route file")]
    NothingToCompare,
    #[error("there is no way number {number}: {count} were found")]
    NoProposal { number: usize, count: usize },
    #[error(
        "{}: this file holds something else than the results of this table\n    choose another name with -o",
        .0.display()
    )]
    OtherStudy(PathBuf),
    #[error("{}: cannot be read: {source}", path.display())]
    Read { path: PathBuf, source: io::Error },
    #[error("{0}")]
    Page(#[from] PageError),
    #[error("{0} threads cannot be started")]
    Threads(usize),
    #[error("stopped before there was anything to show")]
    Stopped,
}

/// Why a file cannot be written, without the name of the file that was tried beside it.
fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::PermissionDenied => "you may not write in this folder".to_owned(),
        io::ErrorKind::StorageFull => "the disk is full".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "this disk is read-only".to_owned(),
        _ => error.to_string(),
    }
}

fn cure(error: &io::Error) -> &'static str {
    match error.kind() {
        io::ErrorKind::StorageFull => "make room, then run this again; the old file stays as it is",
        _ => "choose another folder, or see to its permissions",
    }
}

impl Failure {
    /// Exit status that says so.
    pub(super) fn status(&self) -> u8 {
        match self {
            Self::Stopped => STOPPED,
            _ => WRONG,
        }
    }

    /// Whether the reader of our output has gone: nobody is left to tell, and nothing is wrong.
    pub(super) fn is_broken_pipe(&self) -> bool {
        match self {
            Self::Print(error) => error.kind() == io::ErrorKind::BrokenPipe,
            Self::Json(error) => error.io_error_kind() == Some(io::ErrorKind::BrokenPipe),
            _ => false,
        }
    }
}
