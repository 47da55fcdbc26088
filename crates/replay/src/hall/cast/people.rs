//! The people of the cast, one table.

use super::{Claims, Habit, OwnLimits, Pace, Person, Sore, day, practice, tries, work};
use crate::hall::DAYS;
use crate::hall::paths::Slot;

const HALL: &[&str] = &["bar", "rings", "box", "band", "low-bar", "wall", "parallettes", "parallel-bars"];
const HALL_AND_PLATES: &[&str] =
    &["bar", "rings", "box", "band", "low-bar", "wall", "parallettes", "parallel-bars", "weight"];
const HOME: &[&str] = &["bar", "rings", "box", "band"];
const LEGS_TOO: &[&str] = &["bar", "rings", "box", "band", "wall", "anchor-strap"];

const MON_WED_FRI: &[u8] = &[0, 2, 4];
const MON_THU_SAT: &[u8] = &[0, 3, 5];
const MON_TUE_THU_SAT: &[u8] = &[0, 1, 3, 5];
const MON_TUE_FRI: &[u8] = &[0, 1, 4];

const PULL: &[Slot] = &[tries("pull", 2), work("pull", 4), work("dips", 3)];
const PULL_AND_ROW: &[Slot] = &[work("pull", 4), work("row", 3), work("push-up", 3)];
const LEVER: &[Slot] = &[tries("front-lever", 3), work("front-lever", 4), work("l-sit", 3)];
const LEVER_SHORT: &[Slot] = &[work("front-lever", 4), practice("body-line", 2)];
const PRESS: &[Slot] =
    &[practice("hand-balance", 5), tries("press", 2), work("press", 4), practice("body-line", 2)];
const PRESS_SHORT: &[Slot] = &[practice("hand-balance", 4), work("press", 4), work("row", 3)];
const LEGS: &[Slot] = &[work("one-leg-squat", 4), work("hamstring-lowering", 3), work("pull", 3)];
const LEGS_SHORT: &[Slot] = &[practice("one-leg-balance", 3), work("one-leg-squat", 4)];
const FIRST_STEPS: &[Slot] = &[work("pull", 3), work("front-lever", 3), work("push-up", 2)];

const STEADY: Pace = Pace { sessions_a_jump: 7.0, jump: 0.07 };
const CLIMBING: Pace = Pace { sessions_a_jump: 4.0, jump: 0.085 };
const SLOW: Pace = Pace { sessions_a_jump: 16.0, jump: 0.05 };
const STUCK: Pace = Pace { sessions_a_jump: 200.0, jump: 0.02 };

const TIDY: Habit = Habit {
    turnout: 0.94,
    boldness: 0.5,
    reserve: 0.7,
    claims: Claims::Honest,
    rest: 0.9,
    cause: 0.95,
    play: 0.05,
    caution: 0.1,
};
const PLAIN: Habit = Habit {
    turnout: 0.88,
    reserve: 0.35,
    claims: Claims::Modest,
    rest: 0.6,
    cause: 0.75,
    play: 0.15,
    caution: 0.2,
    ..TIDY
};
const MESSY: Habit = Habit {
    turnout: 0.8,
    boldness: 0.85,
    reserve: 0.12,
    claims: Claims::Always(2),
    rest: 0.2,
    cause: 0.35,
    play: 0.75,
    caution: 0.15,
};

const BASE: Person = Person {
    id: "",
    name: "",
    story: "",
    birth: "1994-01-01",
    mass_kg: 70.0,
    goals: &[],
    equipment: HALL,
    days: MON_WED_FRI,
    limits: OwnLimits { max_pain: None, max_sets: None, max_minutes: None, ban: None },
    cleared: &[],
    present: (0, DAYS - 1),
    away: &[],
    sore: &[],
    start: &[],
    pace: STEADY,
    habit: PLAIN,
    sessions: &[PULL, LEVER],
};

/// Everybody, in the order of the files.
pub const CAST: [Person; 12] = [
    Person {
        id: "wren",
        name: "Wren",
        story: "Progresses steadily from pull-ups to one-arm work.",
        birth: "1995-03-14",
        mass_kg: 61.5,
        goals: &["pull/one-arm-pull-up"],
        sessions: &[PULL, LEVER_SHORT, PULL],
        start: &[("vertical-pull", 10.0), ("straight-arm-pull", 12.0), ("line", 30.0)],
        pace: CLIMBING,
        habit: TIDY,
        ..BASE
    },
    Person {
        id: "dipper",
        name: "Dipper",
        story: "Wants the front lever and gets closer to it month by month.",
        birth: "1990-08-02",
        mass_kg: 72.0,
        goals: &["front-lever/full", "pull/one-arm-pull-up"],
        days: MON_THU_SAT,
        start: &[("vertical-pull", 11.0), ("straight-arm-pull", 14.0), ("line", 34.0)],
        habit: Habit { claims: Claims::Modest, ..TIDY },
        ..BASE
    },
    Person {
        id: "swift",
        name: "Swift",
        story: "Has been stuck on the archer pull-up for half a year.",
        birth: "1988-11-30",
        mass_kg: 78.5,
        goals: &["pull/one-arm-pull-up"],
        sessions: &[PULL, PULL_AND_ROW],
        start: &[("vertical-pull", 14.0), ("horizontal-pull", 7.0)],
        pace: STUCK,
        ..BASE
    },
    Person {
        id: "siskin",
        name: "Siskin",
        story: "Was away for five weeks and came back in the last week.",
        birth: "1992-05-19",
        mass_kg: 66.0,
        goals: &["pull/one-arm-pull-up", "front-lever/full"],
        away: &[(day(20, 0), day(24, 6))],
        start: &[("vertical-pull", 12.0), ("straight-arm-pull", 11.0), ("line", 30.0)],
        ..BASE
    },
    Person {
        id: "nuthatch",
        name: "Nuthatch",
        story: "Elbow pain came back in the last two weeks, over the limit two days before the end.",
        birth: "1986-01-25",
        mass_kg: 74.0,
        goals: &["front-lever/full"],
        sessions: &[LEVER, LEVER_SHORT],
        sore: &[
            Sore { from: day(8, 0), to: day(9, 4), ability: "straight-arm-pull", pain: (2.0, 1.0) },
            Sore { from: day(24, 0), to: day(25, 6), ability: "straight-arm-pull", pain: (2.0, 5.4) },
        ],
        start: &[("straight-arm-pull", 16.0), ("line", 36.0)],
        habit: Habit { turnout: 0.97, ..TIDY },
        ..BASE
    },
    Person {
        id: "redstart",
        name: "Redstart",
        story: "Works towards the free-standing press, every clearance given.",
        birth: "1997-09-07",
        mass_kg: 58.0,
        goals: &["press/free-press", "hand-balance/free-straight"],
        days: MON_TUE_THU_SAT,
        cleared: &[
            ("inverted-work", "2026-05-20", "physician, told to the coach"),
            ("exit-practised", "2026-05-23", "hall coach"),
            ("slow-lowering-full-range", "2026-08-15", "hall coach"),
        ],
        sessions: &[PRESS, PRESS_SHORT],
        start: &[("vertical-push", 2.6), ("hand-balance", 11.0), ("line", 45.0), ("straight-arm-push", 4.0)],
        habit: TIDY,
        ..BASE
    },
    Person {
        id: "goldcrest",
        name: "Goldcrest",
        story: "Presses at the wall; the way out of a free handstand has not been practised yet.",
        birth: "1999-12-11",
        mass_kg: 55.5,
        goals: &["press/free-press", "hand-balance/free-straight"],
        cleared: &[("inverted-work", "2026-05-20", "physician, told to the coach")],
        sessions: &[PRESS_SHORT],
        start: &[("vertical-push", 1.5), ("hand-balance", 4.0), ("straight-arm-push", 3.0)],
        ..BASE
    },
    Person {
        id: "plover",
        name: "Plover",
        story: "Joined in the last week: two sessions so far.",
        birth: "2001-04-03",
        mass_kg: 69.0,
        goals: &["pull/pull-up", "front-lever/advanced-tuck"],
        equipment: HOME,
        present: (day(25, 1), DAYS - 1),
        days: MON_TUE_THU_SAT,
        away: &[(day(25, 5), day(25, 6))],
        start: &[("vertical-pull", 2.4), ("straight-arm-pull", 4.5), ("horizontal-push", 11.0)],
        habit: Habit { turnout: 1.0, reserve: 0.5, ..PLAIN },
        sessions: &[FIRST_STEPS],
        ..BASE
    },
    Person {
        id: "linnet",
        name: "Linnet",
        story: "Is sixteen and trains with short sessions under the coach's eye.",
        birth: "2010-02-17",
        mass_kg: 52.0,
        goals: &["pull/archer", "front-lever/straddle"],
        days: MON_TUE_FRI,
        limits: OwnLimits { max_pain: Some(2), max_sets: Some(14), max_minutes: Some(60), ban: None },
        sessions: &[PULL_AND_ROW, LEVER_SHORT],
        start: &[("vertical-pull", 7.0), ("straight-arm-pull", 11.0), ("line", 26.0)],
        ..BASE
    },
    Person {
        id: "heron",
        name: "Heron",
        story: "Wants the one-leg squat first, and pull-ups beside it.",
        birth: "1983-06-28",
        mass_kg: 81.0,
        goals: &["one-leg-squat/one-leg-squat", "pull/chest-to-bar"],
        equipment: LEGS_TOO,
        days: MON_THU_SAT,
        sessions: &[LEGS, LEGS_SHORT],
        start: &[
            ("knee-extension", 1.9),
            ("single-leg-balance", 9.0),
            ("hamstring", 1.5),
            ("compression", 6.0),
            ("vertical-pull", 4.5),
        ],
        habit: Habit { claims: Claims::Honest, ..PLAIN },
        ..BASE
    },
    Person {
        id: "kestrel",
        name: "Kestrel",
        story: "Plays at the hardest rungs, seldom does working sets and says little about how sets ended.",
        birth: "1998-02-09",
        mass_kg: 70.5,
        goals: &["front-lever/full"],
        limits: OwnLimits {
            max_pain: None,
            max_sets: None,
            max_minutes: None,
            ban: Some(("front-lever/full-raise", "the elbows complained about it in spring")),
        },
        sessions: &[&[tries("front-lever", 4), work("front-lever", 2)], &[tries("pull", 3), work("pull", 2)]],
        start: &[("straight-arm-pull", 15.0), ("vertical-pull", 10.0), ("line", 30.0)],
        pace: SLOW,
        habit: MESSY,
        ..BASE
    },
    Person {
        id: "dunlin",
        name: "Dunlin",
        story: "Comes about every other time, with plates on the belt for pull-ups.",
        birth: "1991-10-21",
        mass_kg: 75.5,
        goals: &["pull/one-arm-pull-up"],
        equipment: HALL_AND_PLATES,
        days: MON_TUE_FRI,
        away: &[(day(10, 0), day(11, 6))],
        sessions: &[PULL, PULL_AND_ROW],
        start: &[("vertical-pull", 15.0), ("horizontal-pull", 8.0)],
        pace: SLOW,
        habit: Habit { turnout: 0.55, boldness: 0.3, ..PLAIN },
        ..BASE
    },
];
