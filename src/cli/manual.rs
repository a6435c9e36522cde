//! `manual`: the manual page, made from the definition of the command line.

use std::io;

use clap::Command;
use clap_mangen::Man;

/// The page in roff: the program, then every command with its options.
pub(super) fn page(command: Command) -> io::Result<Vec<u8>> {
    let mut command = command;
    command.build();
    let mut page = Vec::new();
    let man = Man::new(command.clone());
    man.render_title(&mut page)?;
    man.render_name_section(&mut page)?;
    man.render_synopsis_section(&mut page)?;
    man.render_description_section(&mut page)?;
    for sub in command.get_subcommands() {
        let title = sub.get_name().to_uppercase();
        let man = Man::new(sub.clone());
        let mut section = Vec::new();
        man.render_synopsis_section(&mut section)?;
        man.render_description_section(&mut section)?;
        man.render_options_section(&mut section)?;
        man.render_extra_section(&mut section)?;
        page.extend_from_slice(format!(".SH \"{title}\"\n").as_bytes());
        // A command's own sections become parts of its section.
        page.extend_from_slice(
            String::from_utf8_lossy(&section)
                .replace(".SH ", ".SS ")
                .as_bytes(),
        );
    }
    man.render_extra_section(&mut page)?;
    man.render_version_section(&mut page)?;
    Ok(page)
}
