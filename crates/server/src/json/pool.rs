//! Pool: the contract's descriptors as they are walked through, with the options of its methods and the details of errors.

use std::sync::LazyLock;

use nextrung_api::v1;
use prost_reflect::{DescriptorError, DescriptorPool};

/// Every kind of message that is sent and taken.
pub(crate) static POOL: LazyLock<DescriptorPool> = LazyLock::new(|| {
    // What the build compiled is sound; were it not, there would be no path at all, which the tests would tell.
    pool().unwrap_or_default()
});

fn pool() -> Result<DescriptorPool, DescriptorError> {
    let mut pool = DescriptorPool::decode(v1::FILE_DESCRIPTOR_SET)?;
    pool.decode_file_descriptor_set(tonic_types::pb::FILE_DESCRIPTOR_SET)?;
    Ok(pool)
}
