//! tonic services over the engine.
