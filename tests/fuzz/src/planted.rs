//! Planted: a fault that is only met behind a comparison of four bytes, which chance alone does not pass.

/// A number of no meaning.
const KEY: u32 = 0x5EED_CAFE;

/// Panics on the fault. What comes before it has a branch for each step, so that coverage has something to grow on.
pub(crate) fn judge(bytes: &[u8]) {
    let Some((b"rung", rest)) = bytes.split_first_chunk::<4>() else { return };
    let Some((key, rest)) = rest.split_first_chunk::<4>() else { return };
    if u32::from_le_bytes(*key) == KEY {
        assert!(rest.len() < 2, "the planted fault");
    }
}
