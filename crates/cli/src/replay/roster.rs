//! Roster verb: a replay of what a running service holds.

use clap::Args;
use nextrung_api::v1;
use nextrung_api::v1::replay_roster_response::Piece;
use nextrung_domain::date::CivilDate;

use crate::arguments::HELP;
use crate::connection::{answer, promised};
use crate::failure::Failure;
use crate::output::Layout;
use crate::paragraph::list;
use crate::refusal::Refusal;
use crate::run::Desk;
use crate::table::Columns;
use crate::{calendar, names, progress};

const EXAMPLES: &str = "Examples:
  nextrung replay roster hall
  nextrung replay roster hall --from 2026-06-01 --ladder pull --athlete wren --json";

/// Replay the logs of a running service
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct RosterArguments {
    /// The roster
    roster: String,
    /// Score sets trained on this day and later
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    from: Option<CivilDate>,
    /// Score sets trained on this day and earlier
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    to: Option<CivilDate>,
    /// Score sets of this ladder only; may be given several times
    #[arg(long = "ladder", value_name = "LADDER")]
    ladders: Vec<String>,
    /// Score sets of this athlete only; may be given several times
    #[arg(long = "athlete", value_name = "ATHLETE")]
    athletes: Vec<String>,
    /// Days after the first set of all on which forecasters only learn
    #[arg(long, value_name = "N", default_value_t = 28)]
    warm_up_days: i32,
    /// Score predictions alone: no advice is made
    #[arg(long)]
    no_advice: bool,
}

/// Asks for the replay and shows the figures.
pub(super) async fn run(arguments: &RosterArguments, mut desk: Desk) -> Result<(), Failure> {
    let name = names::roster(&arguments.roster)?;
    let ladders = arguments.ladders.iter().map(|ladder| names::ladder(ladder)).collect::<Result<_, _>>()?;
    let of_roster = |athlete: &String| names::athlete(athlete, Some(&arguments.roster));
    let athletes = arguments.athletes.iter().map(of_roster).collect::<Result<_, _>>()?;
    let request = v1::ReplayRosterRequest {
        name,
        selection: Some(v1::ReplaySelection {
            start_date: arguments.from.map(calendar::to_wire),
            end_date: arguments.to.map(calendar::to_wire),
            ladders,
            athletes,
            warm_up_days: arguments.warm_up_days,
        }),
        with_advice: !arguments.no_advice,
        ..v1::ReplayRosterRequest::default()
    };
    let mut pieces = answer(desk.service.replays().replay_roster(request)).await?;
    let bar = progress::bar(0, "reading");
    let mut summary = None;
    let refused = |status| Failure::Refused(Box::new(Refusal::read(&status)));
    while let Some(response) = pieces.message().await.map_err(refused)? {
        match response.piece {
            Some(Piece::Progress(at)) => {
                bar.set_length(u64::try_from(at.total_athletes).unwrap_or(0));
                bar.set_position(u64::try_from(at.athletes).unwrap_or(0));
            }
            Some(Piece::Summary(found)) => summary = Some(*found),
            Some(Piece::Rows(_)) | None => {}
        }
    }
    bar.finish_and_clear();
    let summary = promised(summary, "a summary")?;
    desk.output.show(&summary, page)
}

fn page(summary: &v1::ReplaySummary, layout: Layout) -> String {
    let mut page = String::new();
    if let Some(counts) = &summary.counts {
        let v1::ReplayCounts { sets, sets_scored, athletes_scored, excluded, notes, .. } = counts;
        let head = format!("{sets_scored} sets of {athletes_scored} athletes scored, of {sets} read");
        page += &format!("{}\n", layout.strong(&head));
        let left_out = excluded.iter().map(|c| format!("{} left out: {}", c.count, c.about));
        let notes = notes.iter().map(|c| format!("{} {}", c.count, c.about));
        page += &list(&left_out.chain(notes).collect::<Vec<_>>(), layout.width);
    }
    let mut table = Columns::new(&["forecaster", ">log score", ">difference", ">99 % interval", ">ranked"]);
    for f in &summary.forecasters {
        let difference = f.difference.as_ref();
        let interval = difference.and_then(|d| d.interval.as_ref());
        table.row([
            f.name.clone(),
            format!("{:.4}", f.log_score),
            difference.map_or_else(String::new, |d| format!("{:+.3}", d.mean)),
            interval.map_or_else(String::new, |i| format!("{:+.3} to {:+.3}", i.low, i.high)),
            f.ranked.map_or_else(String::new, |ranked| format!("{ranked:.3}")),
        ]);
    }
    page += &format!("\n{}\n{}", layout.strong("Predictions"), table.render_wide(layout));
    page += &format!("\n{}\n{}", layout.strong("What this says"), list(&summary.conclusions, layout.width));
    page
}
