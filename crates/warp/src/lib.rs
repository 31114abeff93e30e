//! warp
