//! Replays as they are asked for.

use nextrung_api::v1;
use nextrung_domain::band::Bands;
use nextrung_server::convert::replay::request;
use nextrung_server::names;

use super::part::Within;

pub(super) fn judge(within: &Within, bytes: &[u8]) {
    super::read(bytes, |message: v1::ReplayRosterRequest| {
        let world = within.world;
        let Some(asked) = within.named(request::read(message.clone(), &world.catalog, &world.policy)) else {
            return;
        };
        assert_eq!(names::of_roster(&asked.roster), message.name);
        assert_eq!(asked.seed, message.seed.map_or(1, i64::unsigned_abs));
        assert_eq!((asked.with_advice, asked.with_rows), (message.with_advice, message.with_rows));
        let selection = message.selection.clone().unwrap_or_default();
        assert_eq!(asked.athletes.len(), selection.athletes.len());
        assert_eq!(asked.selection.ladders.len(), selection.ladders.len());
        assert_eq!(i32::from(asked.selection.warm_up_days), selection.warm_up_days);
        let variants: Vec<v1::PolicyVariant> = asked.variants.iter().map(|v| v.message.clone()).collect();
        assert_eq!(variants, message.policy_variants);
        for variant in &asked.variants {
            let (name, policy) = variant.on(Bands::default());
            assert!(name == variant.message.name && policy.attempt_floor <= policy.attempt_ceiling);
        }
    });
}
