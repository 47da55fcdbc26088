//! Week plans to their messages.

use nextrung_api::v1;
use nextrung_engine::week::PlannedWeek;
use nextrung_prescribe::week::{PlannedDay, PlannedPart, Subject, Wish};

use super::prescription::{of_block, of_figure, of_kind};
use super::words;
use crate::names;

/// A week plan's message.
pub fn of_week(found: &PlannedWeek) -> v1::WeekPlan {
    let plan = &found.plan;
    v1::WeekPlan {
        start_date: Some(words::of_date(plan.start)),
        from_date: Some(words::of_date(plan.from)),
        log_position: words::of_position(found.position),
        policy_version: found.policy_version.clone(),
        days: plan.days.iter().map(of_day).collect(),
        wishes: plan.wishes.iter().map(of_wish).collect(),
        cost: f64::from(plan.points),
        plans_weighed: i64::try_from(plan.plans).unwrap_or(i64::MAX),
        sentences: plan.sentences.clone(),
        cautions: plan.cautions.clone(),
    }
}

fn of_day(day: &PlannedDay) -> v1::PlannedDay {
    v1::PlannedDay {
        date: Some(words::of_date(day.date)),
        is_past: day.is_past,
        kind: of_kind(day.kind).into(),
        parts: day.parts.iter().map(of_part).collect(),
        sentence: day.sentence.clone(),
        is_missed: day.is_missed,
        sides: day.sides.iter().map(|side| words::of_side(*side)).collect(),
        is_otherwise: day.is_otherwise,
    }
}

fn of_part(part: &PlannedPart) -> v1::PlannedPart {
    v1::PlannedPart {
        block: of_block(part.block).into(),
        ladder: names::of_ladder(&part.ladder),
        hard_abilities: part.hard.iter().map(ToString::to_string).collect(),
        sets: i32::from(part.sets),
    }
}

fn of_wish(wish: &Wish) -> v1::WeekWish {
    v1::WeekWish {
        wish: wish.wish.to_owned(),
        subject: match &wish.subject {
            Subject::Ladder(id) => names::of_ladder(id),
            Subject::Ability(id) => id.to_string(),
            Subject::Week => String::new(),
        },
        is_met: wish.missed == 0,
        missed: f64::from(wish.missed),
        figures: wish.figures.iter().map(of_figure).collect(),
        sentence: wish.sentence.clone(),
    }
}
