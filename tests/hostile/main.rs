//! Hostile clients: while each kind of attack goes on, a healthy client's calls are all answered. How fast they are is
//! measured by `cargo bench -p nextrung-tests --bench hostile-cost`.

#[cfg(test)]
mod attack;
#[cfg(test)]
mod frames;
#[cfg(test)]
mod healthy;
#[cfg(test)]
#[path = "../e2e/messages.rs"]
#[expect(dead_code, reason = "only part of it is needed here")]
mod messages;
#[cfg(test)]
mod scene;

#[cfg(test)]
mod tests {
    use std::sync::atomic::Ordering;
    use std::time::Duration;

    use crate::attack::{Attack, begin};
    use crate::scene::{furnish, serve};

    /// What came of an attack of a moment: its rounds, and how often it was shut out.
    async fn withstood(attack: Attack) -> (u64, u64) {
        let folder = tempfile::tempdir().unwrap();
        let running = serve(folder.path()).await;
        let (mut healthy, aim) = furnish(folder.path(), running.local_addr()).await;
        let (attackers, toll) = begin(attack, &aim);
        let times = healthy.work(Duration::from_millis(700)).await;
        assert_eq!(times.failures, Vec::<String>::new(), "{}", attack.word());
        assert!(times.calls.len() >= 25 && !times.connections.is_empty(), "{times:?}");
        drop(attackers);
        running.stop().await.unwrap();
        (toll.rounds.load(Ordering::Relaxed), toll.shut_out.load(Ordering::Relaxed))
    }

    #[tokio::test(flavor = "multi_thread")]
    async fn a_healthy_client_is_answered_whatever_others_do() {
        for attack in Attack::ALL {
            let (rounds, _) = withstood(attack).await;
            assert!(rounds > 0, "{} never took place", attack.word());
        }
    }

    #[tokio::test(flavor = "multi_thread")]
    async fn what_is_over_the_limits_is_shut_out() {
        for word in ["silent", "rapid-reset", "continuations"] {
            let attack = Attack::ALL.into_iter().find(|attack| attack.word() == word).unwrap();
            let (_, shut_out) = withstood(attack).await;
            assert!(shut_out > 0, "{word}");
        }
    }
}
