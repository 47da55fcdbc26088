//! Rules: what each method of the contract asks of its caller. A method without a rule is closed.

use std::num::NonZeroU32;

use nextrung_store::key::Role;

use Role::{Analyst, Athlete, Coach, Operator};
use Target::{Name, NameWithin, Names, Nobody};

/// Where a request says whom it is about. These fields are the first of their messages, which a test holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    /// It is about nobody.
    Nobody,
    /// A name in its first field.
    Name,
    /// Names in its first field.
    Names,
    /// A name in the first field of the message in its first field.
    NameWithin,
}

/// What a method asks of its caller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rule {
    /// The method as it is called: `/nextrung.v1.{service}/{method}`.
    pub path: &'static str,
    /// Who may call it.
    pub roles: &'static [Role],
    /// Whom it is about, which the caller's key must reach.
    pub target: Target,
    /// Points it costs of what a key may spend: 1 for what is read, written or prescribed, more for what works long.
    pub points: NonZeroU32,
}

impl Rule {
    /// The rule of a method that works as long as this many common ones.
    const fn costing(mut self, common: u32) -> Self {
        self.points = NonZeroU32::MIN.saturating_add(common - 1);
        self
    }
}

const fn rule(path: &'static str, roles: &'static [Role], target: Target) -> Rule {
    Rule { path, roles, target, points: NonZeroU32::MIN }
}

/// Whoever has to do with athletes.
const ABOUT_ATHLETES: &[Role] = &[Coach, Athlete, Analyst];
/// Whoever trains.
const TRAINING: &[Role] = &[Coach, Athlete];
/// Whoever looks at rosters as a whole.
const ABOUT_ROSTERS: &[Role] = &[Coach, Analyst];

/// Every method, in the order of the contract's files.
pub const RULES: [Rule; 31] = [
    rule("/nextrung.v1.AthleteService/CreateAthlete", &[Coach], Name),
    rule("/nextrung.v1.AthleteService/GetAthlete", ABOUT_ATHLETES, Name),
    rule("/nextrung.v1.AthleteService/ListAthletes", ABOUT_ROSTERS, Name),
    rule("/nextrung.v1.AthleteService/UpdateAthlete", &[Coach], NameWithin),
    rule("/nextrung.v1.AthleteService/EraseAthlete", &[Operator, Coach], Name),
    rule("/nextrung.v1.AthleteService/ExportAthlete", TRAINING, Name),
    rule("/nextrung.v1.AthleteService/ListAccesses", &[Operator, Coach], Name),
    rule("/nextrung.v1.CapacityService/EstimateCapacity", ABOUT_ATHLETES, Name),
    rule("/nextrung.v1.CapacityService/EstimateTrend", ABOUT_ATHLETES, Name).costing(20),
    rule("/nextrung.v1.CapacityService/EstimateForecast", ABOUT_ATHLETES, Name).costing(20),
    rule("/nextrung.v1.LadderService/ListLadders", &Role::ALL, Nobody),
    rule("/nextrung.v1.LadderService/GetLadder", &Role::ALL, Nobody),
    rule("/nextrung.v1.LadderService/CheckLadder", &Role::ALL, Nobody).costing(5),
    rule("/nextrung.v1.PrescriptionService/Prescribe", TRAINING, Name),
    rule("/nextrung.v1.PrescriptionService/GetPrescription", ABOUT_ATHLETES, Name),
    rule("/nextrung.v1.PrescriptionService/ListPrescriptions", ABOUT_ATHLETES, Name),
    rule("/nextrung.v1.PrescriptionService/ExplainPrescription", ABOUT_ATHLETES, Name).costing(20),
    rule("/nextrung.v1.PrescriptionService/SupposePrescription", ABOUT_ATHLETES, Name).costing(5),
    rule("/nextrung.v1.PrescriptionService/PlanWeek", ABOUT_ATHLETES, Name).costing(20),
    rule("/nextrung.v1.PrescriptionService/WatchPrescriptions", TRAINING, Names).costing(5),
    rule("/nextrung.v1.ReplayService/ReplayRoster", ABOUT_ROSTERS, Name).costing(200),
    rule("/nextrung.v1.ReviewService/ReviewLimiters", ABOUT_ATHLETES, Name).costing(20),
    rule("/nextrung.v1.ReviewService/ReviewGates", ABOUT_ATHLETES, Name).costing(5),
    rule("/nextrung.v1.RosterService/CreateRoster", &[Operator], Nobody),
    rule("/nextrung.v1.RosterService/GetRoster", &[Operator, Coach, Analyst], Name),
    rule("/nextrung.v1.RosterService/ListRosters", &[Operator, Coach, Analyst], Nobody),
    rule("/nextrung.v1.RosterService/UpdateRoster", &[Operator, Coach], NameWithin),
    rule("/nextrung.v1.SetLogService/RecordSets", TRAINING, Name).costing(5),
    rule("/nextrung.v1.SetLogService/ListSets", ABOUT_ATHLETES, Name),
    rule("/nextrung.v1.SetLogService/CorrectSet", TRAINING, Name),
    rule("/nextrung.v1.SetLogService/WithdrawSet", TRAINING, Name),
];

/// The rule of a method.
pub fn of(path: &str) -> Option<&'static Rule> {
    RULES.iter().find(|rule| rule.path == path)
}
