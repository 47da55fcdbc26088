//! Generated protobuf types.
