//! Mail: how the sets that were told reach the log, by batches that come late, slips put right and sets sent twice. Every
//! size: common practice, no source.

use nextrung_domain::date::CivilDate;
use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::{BadId, ClientSetId};
use nextrung_domain::profile::Profile;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::Stop;

use crate::dice::Dice;

/// How reliable somebody's sending is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mail {
    /// Share of sessions sent in a later batch, days late.
    pub late: f64,
    /// Share of sets sent with a slip and corrected some days after.
    pub slips: f64,
    /// Share of sets sent a second time under another key, which is withdrawn some days after.
    pub twice: f64,
}

impl Mail {
    /// The same evening, right at once.
    pub const PROMPT: Self = Self { late: 0.0, slips: 0.0, twice: 0.0 };
    /// One session in six days late, one set in fifty corrected, one in a hundred withdrawn.
    pub const CARELESS: Self = Self { late: 1.0 / 6.0, slips: 0.02, twice: 0.01 };
}

/// Least and most days by which a late session comes, and after which a mistake is put right.
const LATE_DAYS: (usize, usize) = (2, 21);
const MISTAKE_DAYS: (usize, usize) = (1, 10);

/// Milliseconds of a day, of the evening within it, and between two sets.
const DAY_MS: i64 = 86_400_000;
const EVENING_MS: i64 = 19 * 3_600_000;
const MINUTE_MS: i64 = 60_000;

/// What is sent, and when it arrives.
struct Letter {
    arrives_ms: i64,
    body: EventBody,
}

/// The log that comes of an athlete's sets: the profile first, then what was sent by arrival. At its end exactly the sets
/// given stand, each as given.
///
/// # Errors
///
/// [`BadId`] when a set's key leaves no room for that of its double.
pub fn deliver(
    mail: &Mail,
    (profile, start): (&Profile, CivilDate),
    sets: &[SetEntry],
    dice: &mut Dice,
) -> Result<Vec<StoredEvent>, BadId> {
    let morning = i64::from(start.day_number()) * DAY_MS;
    let mut letters = vec![Letter {
        arrives_ms: morning,
        body: EventBody::Profiled { profile: Box::new(profile.clone()) },
    }];
    let mut batch: Option<(CivilDate, i64)> = None;
    for set in sets {
        let late_days = match batch {
            Some((date, days)) if date == set.date => days,
            Some(_) | None => late_days(mail, dice),
        };
        batch = Some((set.date, late_days));
        let sent = (i64::from(set.date.day_number()) + late_days) * DAY_MS + EVENING_MS;
        let arrives_ms = sent + MINUTE_MS * i64::from(set.number.get());
        send(mail, set, arrives_ms, (dice, &mut letters))?;
    }
    letters.sort_by_key(|letter| letter.arrives_ms);
    let store =
        |(sequence, Letter { arrives_ms, body })| StoredEvent { sequence, arrived_at_ms: arrives_ms, body };
    Ok((1..).zip(letters).map(store).collect())
}

/// Days by which a session's sets come late; 0 when they come in the evening.
fn late_days(mail: &Mail, dice: &mut Dice) -> i64 {
    let (is_late, days) = (dice.chance(mail.late), between(LATE_DAYS, dice));
    if is_late { days } else { 0 }
}

fn between((least, most): (usize, usize), dice: &mut Dice) -> i64 {
    i64::try_from(least + dice.below(most - least + 1)).unwrap_or(0)
}

fn send(
    mail: &Mail,
    set: &SetEntry,
    arrives_ms: i64,
    (dice, letters): (&mut Dice, &mut Vec<Letter>),
) -> Result<(), BadId> {
    let (slips, twice) = (dice.chance(mail.slips), dice.chance(mail.twice));
    let righted_ms = arrives_ms + DAY_MS * between(MISTAKE_DAYS, dice);
    let mut letter = |arrives_ms, body| letters.push(Letter { arrives_ms, body });
    match slipped(set).filter(|_| slips) {
        Some(wrong) => {
            letter(arrives_ms, EventBody::Recorded { set: wrong });
            let reason = "counted wrongly".to_owned();
            letter(righted_ms, EventBody::Corrected { set: set.clone(), reason });
        }
        None => letter(arrives_ms, EventBody::Recorded { set: set.clone() }),
    }
    if twice {
        let client_set_id = ClientSetId::new(&format!("{}-again", set.client_set_id.as_str()))?;
        let double = SetEntry { client_set_id: client_set_id.clone(), ..set.clone() };
        letter(arrives_ms + MINUTE_MS / 2, EventBody::Recorded { set: double });
        let reason = "sent twice".to_owned();
        letter(righted_ms, EventBody::Withdrawn { client_set_id, reason });
    }
    Ok(())
}

/// The set with a count that is wrong and still sound; nothing when there is none near.
fn slipped(set: &SetEntry) -> Option<SetEntry> {
    let done = match set.stop {
        Stop::Target => set.done.checked_add(2)?,
        Stop::Strength
        | Stop::Balance
        | Stop::Line
        | Stop::Failed
        | Stop::Chosen
        | Stop::Pain
        | Stop::Interrupted
        | Stop::Other => set.done.checked_sub(1)?,
    };
    (done <= set.unit.most()).then(|| SetEntry { done, ..set.clone() })
}
