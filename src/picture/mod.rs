//! Pictures that explain a proposal.
