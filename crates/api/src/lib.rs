//! The generated types, clients and servers of the contract in `proto/`, and nothing else.

/// Package `nextrung.v1`: messages, and for each service a client and a server module.
#[expect(
    unused_qualifications,
    clippy::allow_attributes,
    clippy::allow_attributes_without_reason,
    clippy::too_many_lines,
    reason = "generated code keeps the generator's style; its documentation is checked like all other"
)]
pub mod v1 {
    tonic::include_proto!("nextrung.v1");

    /// The contract as an encoded `google.protobuf.FileDescriptorSet` with comments and every file it imports.
    pub const FILE_DESCRIPTOR_SET: &[u8] = tonic::include_file_descriptor_set!("nextrung.v1");
}
