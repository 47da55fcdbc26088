//! Recorded sets as pages.

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;

use crate::calendar::iso;
use crate::lexicon::Lexicon;
use crate::names::{last, short};
use crate::output::Layout;
use crate::table::Columns;
use crate::words;

/// A list of sets in the order in which they count.
pub(crate) fn list(sets: &[v1::LoggedSet], lexicon: &Lexicon, layout: Layout) -> String {
    if sets.is_empty() {
        return "no sets\n".to_owned();
    }
    let headings = ["day", ">set", "~what", "for", ">done", ">plan", "end", ">left", ">pain", "id"];
    let mut table = Columns::new(&headings);
    for set in sets {
        let session = if set.session > 1 { format!("{}.", set.session) } else { String::new() };
        table.row([
            iso(set.training_date.as_ref()),
            format!("{session}{}", set.set_number),
            lexicon.work(&set.rung, &set.shadings, set.load_kg) + &state(set),
            words::word_of::<v1::Purpose>(set.purpose),
            done(set),
            number(set.planned_target),
            words::word_of::<v1::Stop>(set.stop),
            number(set.reps_in_reserve),
            number(set.pain),
            last(&set.name).to_owned(),
        ]);
    }
    table.render_wide(layout)
}

/// What was recorded, or would have been.
pub(crate) fn recorded(answer: &v1::RecordSetsResponse, is_kept: bool, _layout: Layout) -> String {
    let what = if is_kept { "recorded" } else { "checked, nothing recorded" };
    let line = |set: &v1::LoggedSet| {
        let name = if set.name.is_empty() { set.client_set_id.clone() } else { short(&set.name) };
        format!("{name} {what}\n")
    };
    answer.sets.iter().map(line).collect()
}

fn state(set: &v1::LoggedSet) -> String {
    match v1::SetState::try_from(set.state) {
        Ok(v1::SetState::Corrected | v1::SetState::Withdrawn) => {
            format!(" ({}: {})", words::word_of::<v1::SetState>(set.state), set.change_reason)
        }
        Ok(v1::SetState::Active | v1::SetState::Unspecified) | Err(_) => String::new(),
    }
}

fn done(set: &v1::LoggedSet) -> String {
    match set.done {
        Some(Done::Reps(count)) => count.to_string(),
        Some(Done::HoldSeconds(count) | Done::LoweringSeconds(count)) => format!("{count} s"),
        None => "-".to_owned(),
    }
}

fn number(value: Option<i32>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set() -> v1::LoggedSet {
        v1::LoggedSet {
            name: "rosters/hall/athletes/wren/sets/wren:2026-11-20:1:2".to_owned(),
            client_set_id: "wren:2026-11-20:1:2".to_owned(),
            training_date: Some(v1::Date { year: 2026, month: 11, day: 20 }),
            session: 2,
            set_number: 3,
            rung: "ladders/pull/rungs/pull-up".to_owned(),
            purpose: i32::from(v1::Purpose::Working),
            done: Some(Done::Reps(4)),
            planned_target: Some(5),
            stop: i32::from(v1::Stop::Strength),
            state: i32::from(v1::SetState::Corrected),
            change_reason: "miscounted".to_owned(),
            ..v1::LoggedSet::default()
        }
    }

    #[test]
    fn a_row_says_what_was_done_and_how_it_ended() {
        let layout = Layout { list_width: 130, ..Layout::PLAIN };
        let expected =
            "  day         set  what                                  for      done  plan  end       id
  2026-11-20  2.3  pull/pull-up (corrected: miscounted)  working     4     5  strength  wren:2026-11-20:1:2
";
        assert_eq!(list(&[set()], &Lexicon::default(), layout), expected);
        assert_eq!(list(&[], &Lexicon::default(), layout), "no sets\n");
    }

    #[test]
    fn a_check_is_not_called_a_record() {
        let answer = v1::RecordSetsResponse { sets: vec![set()], log_position: 1 };
        assert_eq!(recorded(&answer, true, Layout::PLAIN), "hall/wren/wren:2026-11-20:1:2 recorded\n");
        assert!(recorded(&answer, false, Layout::PLAIN).ends_with("nothing recorded\n"));
    }
}
