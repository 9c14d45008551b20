//! Recordings whose truth is known: an arc model and the invented shop.
