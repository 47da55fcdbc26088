//! Week as a picture.

use nextrung_api::v1;
use nextrung_chart::week::{Part, PlannedDay, Week, Wish};

use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::picture::{count, day};
use crate::view::week::kind;

/// The picture as SVG.
pub(crate) fn draw(found: &v1::WeekPlan, who: &str, lexicon: &Lexicon) -> Result<String, Failure> {
    let days = found.days.iter().map(|planned| of_day(planned, lexicon));
    // What the sentences say of wishes stands in their table.
    let told = |sentence: &&String| !found.wishes.iter().any(|wish| wish.sentence == **sentence);
    let week = Week {
        who: who.to_owned(),
        days: days.collect::<Result<_, _>>()?,
        wishes: found.wishes.iter().map(|wish| of_wish(wish, lexicon)).collect(),
        sentences: found.sentences.iter().filter(told).cloned().collect(),
        cautions: found.cautions.clone(),
    };
    Ok(week.draw()?)
}

fn of_day(planned: &v1::PlannedDay, lexicon: &Lexicon) -> Result<PlannedDay, Failure> {
    let purpose = kind(planned);
    Ok(PlannedDay {
        day: day(planned.date.as_ref())?,
        is_past: planned.is_past,
        purpose: if purpose.is_empty() { "nothing trained".to_owned() } else { purpose },
        parts: planned.parts.iter().map(|part| of_part(part, lexicon)).collect(),
        sentence: planned.sentence.clone(),
    })
}

fn of_part(part: &v1::PlannedPart, lexicon: &Lexicon) -> Part {
    let name = match v1::Block::try_from(part.block) {
        Ok(v1::Block::BalancePractice) => "sets of balance practice",
        Ok(v1::Block::Attempt) => "attempts",
        Ok(v1::Block::Working) => "working sets",
        Ok(v1::Block::Test) => "test sets",
        Ok(v1::Block::Unspecified) | Err(_) => "sets",
    };
    let name = if part.sets == 1 {
        name.replacen("sets", "set", 1).replace("attempts", "attempt")
    } else {
        name.to_owned()
    };
    Part {
        name,
        ladder: lexicon.ladder(&part.ladder),
        sets: count(part.sets),
        hard: part.hard_abilities.iter().map(|ability| ability.replace('-', " ")).collect(),
    }
}

fn of_wish(wish: &v1::WeekWish, lexicon: &Lexicon) -> Wish {
    let what = wish.wish.replace('-', " ");
    let subject = if wish.subject.contains('/') {
        lexicon.ladder(&wish.subject)
    } else {
        wish.subject.replace('-', " ")
    };
    let name = if subject.is_empty() { what } else { format!("{what}: {subject}") };
    Wish { name, is_met: wish.is_met, sentence: wish.sentence.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_answer_stands_in_the_picture() {
        let part = |block: v1::Block, sets: i32, hard: &[&str]| v1::PlannedPart {
            block: block.into(),
            ladder: "ladders/pull".to_owned(),
            hard_abilities: hard.iter().map(|one| (*one).to_owned()).collect(),
            sets,
        };
        let training = v1::PlannedDay {
            date: Some(v1::Date { year: 2026, month: 11, day: 23 }),
            kind: v1::PrescriptionKind::Training.into(),
            parts: vec![part(v1::Block::Test, 1, &[]), part(v1::Block::Working, 4, &["vertical-pull"])],
            sentence: "Fresh.".to_owned(),
            ..v1::PlannedDay::default()
        };
        let missed = "Only one session.".to_owned();
        let wish = v1::WeekWish {
            wish: "exposures".to_owned(),
            subject: "ladders/pull".to_owned(),
            sentence: missed.clone(),
            ..v1::WeekWish::default()
        };
        let plan = v1::WeekPlan {
            days: vec![training],
            wishes: vec![wish],
            sentences: vec!["Pull on Monday.".to_owned(), missed.clone()],
            cautions: vec!["Take care.".to_owned()],
            ..v1::WeekPlan::default()
        };
        let svg = draw(&plan, "hall/wren", &Lexicon::default()).unwrap();
        for text in [
            ">Monday 23 Nov<",
            ">pull: 1 test set<",
            ">pull: 4 working",
            ">vertical pull<",
            ">Fresh.<",
            ">MISSED<",
            ">exposures: pull<",
            ">Pull on Monday.<",
            ">Take care.<",
        ] {
            assert!(svg.contains(text), "{text} in {svg}");
        }
        assert_eq!(svg.matches(&format!(">{missed}<")).count(), 1, "told once");
    }
}
