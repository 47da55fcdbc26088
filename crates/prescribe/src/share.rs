//! Share: what a share of sets is worth when sets of one session or day are alike, and how far it may be off.

use std::collections::BTreeMap;

/// How many independent sets they are worth, each given by its cluster (a session, a day) and how much of it counts, 0 to 1.
/// The variance of the share is taken over clusters, as that of a ratio (Cochran 1977, from memory). No fewer than the
/// clusters and no more than the sets; as many as the clusters where all or none counted, or there is but one, which
/// tells nothing of how alike their sets are. 0 of none.
pub(crate) fn worth<K: Ord>(sets: impl IntoIterator<Item = (K, f64)>) -> f64 {
    let mut clusters: BTreeMap<K, (f64, f64)> = BTreeMap::new();
    for (cluster, counted) in sets {
        let (n, sum) = clusters.entry(cluster).or_default();
        *n += 1.0;
        *sum += counted;
    }
    let total = |of: fn(&(f64, f64)) -> f64| clusters.values().map(of).sum::<f64>();
    let (fewest, sets, counted) = (total(|_| 1.0), total(|c| c.0), total(|c| c.1));
    let share = counted / sets.max(1.0);
    let off = |(n, sum): &(f64, f64)| (sum - n * share) * (sum - n * share);
    let variance = clusters.values().map(off).sum::<f64>() / (sets * sets).max(1.0);
    let alone = share * (1.0 - share);
    if alone > 0.0 && fewest > 1.0 {
        (alone / variance.max(f64::MIN_POSITIVE)).clamp(fewest, sets)
    } else {
        fewest
    }
}

/// Middle and standard deviation of a share seen in `n` sets, whose interval of `half` standard deviations to either side is
/// that of Wilson (1927, from memory; checked by hand in the tests). Never quite certain; 0 to 1 of none.
pub(crate) fn wilson(share: f64, n: f64, half: f64) -> (f64, f64) {
    let square = half * half;
    let whole = n + square;
    let middle = (n * share + 0.5 * square) / whole;
    (middle, (n * share * (1.0 - share) + 0.25 * square).max(0.0).sqrt() / whole)
}

/// The interval of [`wilson`].
pub(crate) fn interval(share: f64, n: f64, half: f64) -> (f64, f64) {
    let (middle, sd) = wilson(share, n, half);
    ((middle - half * sd).max(0.0), (middle + half * sd).min(1.0))
}
