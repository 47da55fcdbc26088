//! Key verbs: make, list, revoke; they work on the database itself, so that the first key can be made.

use clap::{Args, Subcommand};
use nextrung_domain::date::CivilDate;
use nextrung_domain::problem::Problem;
use nextrung_server::access::keeper::{self, KeeperError, NewKey};
use nextrung_server::access::{Key, Reach};
use nextrung_store::error::StoreError;
use nextrung_store::log::Place;
use serde_json::{Value, json};

use crate::arguments::HELP;
use crate::calendar;
use crate::database::{Database, Trust};
use crate::failure::{Detail, Failure};
use crate::output::{Layout, Output};
use crate::shell::quoted;
use crate::table::Columns;

const VERBS: &str = "Examples:
  nextrung key make operator --title \"The hall's machine\"
  nextrung key make coach --of hall --title Zoe
  nextrung key make athlete --of hall --athlete wren --title \"Wren's phone\" --until 2027-01-31
  nextrung key list
  nextrung key revoke 0123456789abcdef
  nextrung serve --keys true";

const AFTER: &str = "A key is shown once, when it is made; only a hash of it is kept. Operators keep rosters and keys and see \
nothing of athletes; coaches train the athletes of their rosters; athletes see and record their own; analysts read and replay.";

/// A day, milliseconds.
pub(crate) const DAY_MS: i64 = 86_400_000;
/// The database when none is named.
const USUAL: &str = "nextrung.db";

/// Make, list and revoke the keys of callers.
#[derive(Debug, Subcommand)]
#[command(help_template = HELP, disable_help_subcommand = true, before_help = VERBS, after_help = AFTER)]
pub(crate) enum KeyVerb {
    /// Make a key and show it, this once
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung key make coach --of hall --title Zoe")]
    Make(MakeArguments),
    /// List the keys, without their secrets
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung key list")]
    List(DatabaseFlag),
    /// Revoke a key, for good
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung key revoke 0123456789abcdef")]
    Revoke {
        /// The key's id, as the list shows it
        #[arg(value_name = "ID")]
        id: String,
        #[command(flatten)]
        database: DatabaseFlag,
    },
}

/// Where keys are kept.
#[derive(Debug, Args)]
pub(crate) struct DatabaseFlag {
    /// The database of the service: a file, or the address of a PostgreSQL database
    #[arg(
        long,
        value_name = "FILE|URL",
        env = "NEXTRUNG_DATABASE",
        hide_env_values = true,
        default_value = USUAL,
        value_parser = Database::read
    )]
    database: Database,
    #[command(flatten)]
    trust: Trust,
}

impl DatabaseFlag {
    fn place(&self) -> Result<Place, Failure> {
        self.database.place("--database", self.trust)
    }

    /// The flags that name the same database to a shell once more, without a password.
    fn again(&self, place: &Place) -> String {
        if *place == Place::File(USUAL.into()) {
            return String::new();
        }
        let place = quoted(&place.to_string());
        let trust = if self.trust == Trust::default() { "" } else { " --postgres-trusted-network true" };
        format!(" --database {place}{trust}")
    }

    /// The database, which must be there: a file would be made, and be empty.
    pub(crate) fn there(&self) -> Result<Place, Failure> {
        let place = self.place()?;
        match &place {
            Place::File(path) if !path.is_file() => {
                let message = format!("there is no database {}", path.display());
                Err(Failure::usage(message, "Name the one that the service was started with."))
            }
            Place::File(_) | Place::Postgres(_) => Ok(place),
        }
    }
}

/// A new key.
#[derive(Debug, Args)]
pub(crate) struct MakeArguments {
    /// What its holder does: operator, coach, athlete or analyst
    #[arg(value_name = "ROLE")]
    role: String,
    /// Whose key it is
    #[arg(long)]
    title: String,
    /// A roster it reaches; may be given several times
    #[arg(long = "of", value_name = "ROSTER")]
    rosters: Vec<String>,
    /// The one athlete it reaches
    #[arg(long, value_name = "ATHLETE")]
    athlete: Option<String>,
    /// The last day on which it is taken, in UTC
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    until: Option<CivilDate>,
    #[command(flatten)]
    database: DatabaseFlag,
}

/// Does what the verb says.
pub(crate) async fn run(verb: &KeyVerb, mut output: Output) -> Result<(), Failure> {
    match verb {
        KeyVerb::Make(arguments) => make(arguments, output).await,
        KeyVerb::List(flag) => {
            let keys = keeper::list(&flag.there()?).await.map_err(|error| refused(&error))?;
            if output.is_json {
                return output.json(&json!({ "keys": keys.iter().map(shown).collect::<Vec<_>>() }));
            }
            let page = table(&keys, output.layout);
            output.page(&page)
        }
        KeyVerb::Revoke { id, database } => {
            let key = keeper::revoke(&database.there()?, id).await.map_err(|error| refused(&error))?;
            if output.is_json {
                return output.json(&shown(&key));
            }
            output.page(&format!("{} of {} is revoked\n", key.id, key.title))
        }
    }
}

async fn make(arguments: &MakeArguments, mut output: Output) -> Result<(), Failure> {
    let end_of = |day: CivilDate| (i64::from(day.day_number()) + 1) * DAY_MS;
    let new = NewKey {
        role: arguments.role.clone(),
        title: arguments.title.clone(),
        rosters: arguments.rosters.clone(),
        athlete: arguments.athlete.clone(),
        expires_at_ms: arguments.until.map(end_of),
    };
    let place = arguments.database.place()?;
    let (text, key) = keeper::make(&place, new).await.map_err(|error| refused(&error))?;
    if output.is_json {
        let mut told = shown(&key);
        told["secret"] = Value::String(text.reveal());
        return output.json(&told);
    }
    let told = format!(
        "{}\n\nKept by {} ({}), for {}. It is shown this once: set NEXTRUNG_KEY to it, or send it as\n\
         `authorization: Bearer ...`. To take it back: nextrung key revoke {}{}\n",
        text.reveal(),
        key.title,
        key.role.word(),
        reach(&key),
        key.id,
        arguments.database.again(&place)
    );
    output.page(&told)
}

fn reach(key: &Key) -> String {
    if key.reaches.is_empty() {
        return "rosters and keys".to_owned();
    }
    let one = |Reach { roster, athlete }: &Reach| match athlete {
        Some(athlete) => format!("{roster}/{athlete}"),
        None => roster.to_string(),
    };
    key.reaches.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn day(at_ms: i64) -> String {
    let day = i32::try_from(at_ms.div_euclid(DAY_MS)).unwrap_or(i32::MAX);
    CivilDate::from_day_number(day).unwrap_or(CivilDate::LAST).to_string()
}

/// How long a key is taken, in words.
fn standing(key: &Key) -> String {
    match (key.revoked_at_ms, key.expires_at_ms) {
        (Some(at), _) => format!("revoked {}", day(at)),
        // The last moment before the end.
        (None, Some(at)) if keeper::is_over(key) => format!("expired, until {}", day(at - 1)),
        (None, Some(at)) => format!("until {}", day(at - 1)),
        (None, None) => "until revoked".to_owned(),
    }
}

fn shown(key: &Key) -> Value {
    json!({
        "id": key.id.as_str(),
        "role": key.role.word(),
        "title": key.title,
        "reaches": key.reaches.iter().map(|r| json!({
            "roster": r.roster.as_str(),
            "athlete": r.athlete.as_ref().map(|athlete| athlete.as_str()),
        })).collect::<Vec<_>>(),
        "made": day(key.created_at_ms),
        "expiresAtMs": key.expires_at_ms,
        "revokedAtMs": key.revoked_at_ms,
    })
}

fn table(keys: &[Key], layout: Layout) -> String {
    if keys.is_empty() {
        return "No keys. Make the first with: nextrung key make operator --title ...\n".to_owned();
    }
    let mut columns = Columns::new(&["id", "role", "~whose", "~reaches", "made", "taken"]);
    for key in keys {
        columns.row([
            key.id.to_string(),
            key.role.word().to_owned(),
            key.title.clone(),
            reach(key),
            day(key.created_at_ms),
            standing(key),
        ]);
    }
    columns.render_wide(layout)
}

fn refused(error: &KeeperError) -> Failure {
    let advice = "See nextrung key --help.";
    match error {
        KeeperError::BadKey { problems } => {
            let detail = |problem: &Problem| Detail {
                place: problem.field.clone(),
                text: format!("found {}; expected {}", problem.found, problem.expected),
            };
            Failure::Input {
                message: "no key was made or found".to_owned(),
                details: problems.iter().map(detail).collect(),
                advice: advice.to_owned(),
            }
        }
        KeeperError::Store(StoreError::Refused { expected, .. }) => Failure::usage(
            format!("whom a key reaches must be {expected}"),
            "Name rosters with --of and an athlete with --athlete.",
        ),
        KeeperError::Store(_) => Failure::usage(error.to_string(), advice),
        KeeperError::Random { .. } => Failure::internal(&error.to_string()),
    }
}
