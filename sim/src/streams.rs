//! Decides how random numbers are drawn: from streams keyed by the seed, the block or repetition, and the item they are for.
//!
//! So the same numbers come on any number of threads, and what is changed in one item leaves the draws of all others as they were:
//! two schemes are compared on the same luck.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use rand_distr::{Distribution, StandardNormal};

/// The stream of `item` in one block.
pub(crate) fn stream(seed: u64, block: u64, item: &str) -> ChaCha8Rng {
    let mut key = [0; 32];
    key[..8].copy_from_slice(&seed.to_le_bytes());
    key[8..16].copy_from_slice(&block.to_le_bytes());
    key[16..24].copy_from_slice(&fnv(item).to_le_bytes());
    ChaCha8Rng::from_seed(key)
}

/// Names an item by a number: the 64-bit hash of Fowler, Noll and Vo (1a), from memory.
fn fnv(text: &str) -> u64 {
    text.bytes()
        .fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x100_0000_01b3))
}

/// Normal with mean 0 and standard deviation 1.
pub(crate) fn normal(stream: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(stream)
}

/// Evenly from 0 to below 1.
pub(crate) fn even(stream: &mut ChaCha8Rng) -> f64 {
    (stream.next_u64() >> 11) as f64 * (-53_f64).exp2()
}
