//! `page`: the local web page.

use std::io::Write;

use crate::page::{Serving, serve};

use super::answers;
use super::arguments::{Page, Shared};
use super::failure::Failure;

pub(super) fn run(command: &Page, shared: &Shared) -> Result<u8, Failure> {
    let serving = Serving {
        route: command.route.clone(),
        listen: command.listen,
        port: command.port,
    };
    let (ended, end) = tokio::sync::oneshot::channel();
    let mut ended = Some(ended);
    ctrlc::set_handler(move || {
        if let Some(ended) = ended.take() {
            // Where nobody waits any more it has ended already.
            let _told = ended.send(());
        }
    })
    .map_err(|error| Failure::Question(format!("Ctrl-C cannot be listened for: {error}")))?;
    let mut said = Ok(());
    serve(
        &serving,
        answers(),
        |listening| {
            if !command.listen.is_loopback() {
                // Standard error may be gone; the page is served all the same.
                let _told = writeln!(
                    std::io::stderr(),
                    "Mind: whoever reaches {} over the network and knows the address with its token can read and change \
                     this route. It is sent unencrypted. Elsewhere the address begins with this machine's own number.",
                    listening.address
                );
            }
            said = writeln!(std::io::stdout(), "{}", listening.url)
                .and_then(|()| std::io::stdout().flush());
            if !shared.quiet {
                let _told = writeln!(
                    std::io::stderr(),
                    "Open this address in a browser on this machine. Ctrl-C ends it; nothing is lost."
                );
            }
            if command.open {
                open_browser(&listening.url);
            }
        },
        async move {
            // A sender that is gone means that nobody can end it this way.
            if end.await.is_err() {
                std::future::pending::<()>().await;
            }
        },
    )?;
    said?;
    Ok(0)
}

/// Shows an address in the person's browser, by the system's own means.
fn open_browser(url: &str) {
    let program = if cfg!(target_os = "macos") {
        "open"
    } else if cfg!(windows) {
        "explorer"
    } else {
        "xdg-open"
    };
    let started = std::process::Command::new(program)
        .arg(url)
        .stdin(std::process::Stdio::null())
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn();
    if let Err(error) = started {
        let _told = writeln!(
            std::io::stderr(),
            "The browser cannot be started ({program}: {error}); open the address yourself."
        );
    }
}
