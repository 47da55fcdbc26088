//! Manual: pages for `man` and completions for shells, out of the command line itself.

use std::path::{Path, PathBuf};
use std::{fs, io};

use clap::builder::StyledStr;
use clap::{CommandFactory, Subcommand};
use clap_complete::Shell;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};

use crate::arguments::{Arguments, HELP};
use crate::failure::Failure;
use crate::output::Output;

/// What examples of a help page begin with.
const EXAMPLES: &str = "Examples:\n";

const VERBS: &str = "Examples:
  nextrung manual pages --to /usr/local/share/man/man1
  nextrung manual completions bash > /etc/bash_completion.d/nextrung";

/// Write manual pages, and completions for shells.
#[derive(Debug, Subcommand)]
#[command(help_template = HELP, disable_help_subcommand = true, before_help = VERBS)]
pub(crate) enum ManualVerb {
    /// Write a page for each verb; those that are there are written anew
    #[command(
        help_template = HELP,
        before_help = "Examples:\n  nextrung manual pages --to pages\n  man pages/nextrung-record.1"
    )]
    Pages {
        /// The folder to write to; it is made when it is not there
        #[arg(long, value_name = "FOLDER")]
        to: PathBuf,
    },
    /// Print what a shell needs to complete verbs and flags
    #[command(
        help_template = HELP,
        before_help = "Examples:\n  nextrung manual completions bash > /etc/bash_completion.d/nextrung"
    )]
    Completions {
        /// The shell
        shell: Shell,
    },
}

/// Does what the verb says.
pub(crate) fn run(verb: &ManualVerb, mut output: Output) -> Result<(), Failure> {
    let mut program = Arguments::command();
    match verb {
        ManualVerb::Pages { to } => {
            write_pages(program, to).map_err(|error| {
                Failure::usage(
                    format!("cannot write to {}: {error}", to.display()),
                    "Name a folder that can be written to.",
                )
            })?;
            output.say(&format!("The pages are in {}.", to.display()));
            Ok(())
        }
        ManualVerb::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(*shell, &mut program, "nextrung", &mut script);
            output.page(&String::from_utf8_lossy(&script))
        }
    }
}

fn write_pages(program: clap::Command, folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder)?;
    let mut program = program.disable_help_subcommand(true);
    program.build();
    write_page(&program, folder)
}

/// Writes the page of a command, and those of its verbs.
fn write_page(command: &clap::Command, folder: &Path) -> io::Result<()> {
    for verb in command.get_subcommands().filter(|verb| !verb.is_hide_set()) {
        write_page(verb, folder)?;
    }
    let page = Man::new(command.clone().after_help(None::<&str>));
    let mut text = Vec::new();
    page.render(&mut text)?;
    ending(command).to_writer(&mut text)?;
    fs::write(folder.join(page.get_filename()), text)
}

/// The sections at the end of a page: what stands before and after the flags of a help page. A page of the library leaves
/// out the one and fills the lines of the other.
fn ending(command: &clap::Command) -> Roff {
    let mut roff = Roff::new();
    let text = |part: Option<&StyledStr>| part.map(ToString::to_string).unwrap_or_default();
    let examples = text(command.get_before_help());
    let examples = examples.strip_prefix(EXAMPLES).unwrap_or(&examples);
    section(&mut roff, ("EXAMPLES", examples));
    section(&mut roff, ("NOTES", &text(command.get_after_help())));
    roff
}

/// A section. Lines that begin with a blank stay as they are, all others are filled.
fn section(roff: &mut Roff, (title, text): (&str, &str)) {
    if text.is_empty() {
        return;
    }
    roff.control("SH", [title]);
    let mut stays = false;
    for line in text.lines() {
        if line.starts_with(' ') != stays {
            stays = !stays;
            roff.control(if stays { "nf" } else { "fi" }, []);
        }
        match line {
            "" => roff.control("PP", []),
            line => roff.text([roman(line)]),
        };
    }
    if stays {
        roff.control("fi", []);
    }
}
