//! The server: listens, answers, ends when told.

use std::future::Future;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;

use axum::middleware::{from_fn, from_fn_with_state};
use axum::serve::ListenerExt;
use tokio::net::TcpListener;

use crate::quantity::Units;

use super::asking::Answers;
use super::calls::{self, Desk};
use super::guard::{Guard, guarded};
use super::jobs::Jobs;
use super::session::{Folder, Session};
use super::smaller::smaller;

/// What to serve, and where.
#[derive(Debug, Clone)]
pub struct Serving {
    /// The route file to open; none offers examples and the files of the folder.
    pub route: Option<PathBuf>,
    /// Address to listen on.
    pub listen: IpAddr,
    /// Port; 0 for any that is free.
    pub port: u16,
}

impl Default for Serving {
    fn default() -> Self {
        Self {
            route: None,
            listen: Ipv4Addr::LOCALHOST.into(),
            port: 0,
        }
    }
}

/// A server that listens.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listening {
    /// Where it listens.
    pub address: SocketAddr,
    /// The address to open, with its token.
    pub url: String,
}

/// Why nothing is served.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// The port is taken, or the address is not of this machine.
    #[error(
        "the page cannot listen on {0}: {1}\n    choose another --port, or leave it out for any that is free"
    )]
    Listen(SocketAddr, std::io::Error),
    /// The folder of the route file is not there.
    #[error("{}: the folder cannot be opened: {source}", folder.display())]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// The route file is not there, or open in another page.
    #[error("{}: {says}", route.display())]
    Route {
        /// The route file.
        route: PathBuf,
        /// What is wrong with it.
        says: String,
    },
    /// The system has no random numbers, or no threads.
    #[error("the page cannot be served: {0}")]
    System(String),
}

/// Serves the page until `end` is done. `answers` says how questions are answered. `ready` is told where it listens.
///
/// # Errors
/// The address cannot be listened on, or the route file not be found. A route file that has faults is no error here: the
/// page shows them.
pub fn serve(
    serving: &Serving,
    answers: Answers,
    ready: impl FnOnce(&Listening),
    end: impl Future<Output = ()> + Send + 'static,
) -> Result<(), PageError> {
    let desk = Arc::new(Desk {
        session: session(serving)?,
        jobs: Jobs::default(),
        answers,
    });
    // The browser takes its time to come: what it asks first is worked out meanwhile.
    let ahead = Arc::clone(&desk);
    std::thread::spawn(move || {
        if let Ok(now) = ahead.session.now() {
            // What goes wrong is told to whoever asks.
            let _told = now.findings(false, Units::METRIC);
        }
    });
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .max_blocking_threads(64)
        .thread_stack_size(8 << 20)
        .enable_all()
        .build()
        .map_err(|error| PageError::System(error.to_string()))?;
    let done = runtime.block_on(async {
        let asked = SocketAddr::new(serving.listen, serving.port);
        let listen = |error| PageError::Listen(asked, error);
        let listener = TcpListener::bind(asked).await.map_err(listen)?;
        let address = listener.local_addr().map_err(listen)?;
        let guard = Guard::new(address).map_err(|error| PageError::System(error.to_string()))?;
        let shown = if address.ip().is_unspecified() {
            SocketAddr::new(Ipv4Addr::LOCALHOST.into(), address.port())
        } else {
            address
        };
        let url = format!("http://{shown}/{}/", guard.token());
        let router = calls::router(guard.token(), desk)
            .layer(from_fn(smaller))
            .layer(from_fn_with_state(guard, guarded));
        ready(&Listening { address, url });
        // A line that is told goes out at once, however short it is.
        let listener = listener.tap_io(|stream| {
            let _slower = stream.set_nodelay(true);
        });
        tokio::select! {
            served = axum::serve(listener, router) => served.map_err(listen),
            () = end => Ok(()),
        }
    });
    // What is still being worked out is not waited for.
    runtime.shutdown_background();
    done
}

/// The session with its folder, and the route file open in it.
fn session(serving: &Serving) -> Result<Session, PageError> {
    let at = match &serving.route {
        None => PathBuf::from("."),
        Some(route) => match route.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
            _ => PathBuf::from("."),
        },
    };
    let folder = Folder::new(&at).map_err(|source| PageError::Folder {
        folder: at.clone(),
        source,
    })?;
    let Some(route) = &serving.route else {
        return Ok(Session::new(folder));
    };
    let fault = |says: String| PageError::Route {
        route: route.clone(),
        says,
    };
    // A link is followed: the folder is that of the file itself.
    let path = route.canonicalize().map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => fault("there is no such file".to_owned()),
        _ => fault(error.to_string()),
    })?;
    let at = path.parent().map_or(at, ToOwned::to_owned);
    let folder = Folder::new(&at).map_err(|source| PageError::Folder {
        folder: at.clone(),
        source,
    })?;
    let session = Session::new(folder);
    session
        .open_path(&path)
        .map_err(|wrong| fault(wrong.to_string()))?;
    Ok(session)
}
