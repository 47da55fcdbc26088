//! World: what inputs are read against: the ladders of the program, and two athletes.

use std::sync::LazyLock;

use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};
use nextrung_domain::profile::Profile;
use nextrung_domain::profile_draft::ProfileDraft;
use nextrung_prescribe::policy::Policy;
use nextrung_server::ladders;

/// What inputs are read against.
pub(crate) struct World {
    pub(crate) catalog: Catalog,
    pub(crate) policy: Policy,
    pub(crate) today: CivilDate,
    pub(crate) wren: AthleteRef,
    /// One of whom much is known, and one of whom nothing is.
    pub(crate) profiles: [Profile; 2],
}

/// The world, made once.
pub(crate) static WORLD: LazyLock<World> = LazyLock::new(World::new);

impl World {
    fn new() -> Self {
        let catalog = ladders::embedded().unwrap_or_else(|error| unreachable!("{error}"));
        let today = CivilDate::from_parts(2026, 11, 28).unwrap_or_else(|error| unreachable!("{error}"));
        let unknown = ProfileDraft { display_name: "Wren".to_owned(), ..ProfileDraft::default() };
        let known =
            ProfileDraft { birth_date: Some((1996, 2, 29)), body_mass_kg: Some(62.5), ..unknown.clone() };
        let profiles = [known, unknown].map(|draft| {
            draft.check(&catalog, today).unwrap_or_else(|problems| unreachable!("{problems:?}"))
        });
        let wren = RosterId::new("hall").ok().zip(AthleteId::new("wren").ok());
        let wren = wren.map(|(roster, athlete)| AthleteRef { roster, athlete });
        let wren = wren.unwrap_or_else(|| unreachable!("ids of the right shape"));
        Self { catalog, policy: Policy::default(), today, wren, profiles }
    }
}
