//! Manual: pages for `man` and completions for shells, out of the command line itself.

use std::io;
use std::path::{Path, PathBuf};

use clap::{CommandFactory, Subcommand};
use clap_complete::Shell;

use crate::arguments::{Arguments, HELP};
use crate::failure::Failure;
use crate::output::Output;

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
    std::fs::create_dir_all(folder)?;
    clap_mangen::generate_to(with_examples(program), folder)
}

/// The command with its examples at the end of its help, since a page leaves out what stands at the beginning.
fn with_examples(command: clap::Command) -> clap::Command {
    let parts = [command.get_before_help(), command.get_after_help()];
    let end: Vec<String> = parts.into_iter().flatten().map(ToString::to_string).collect();
    command.after_help(end.join("\n\n")).mut_subcommands(with_examples)
}
