//! Ids of stored things, a type for each, so that one cannot be taken for another.

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(
            Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type, serde::Serialize, serde::Deserialize,
        )]
        #[sqlx(transparent)]
        #[serde(transparent)]
        pub struct $name(pub i64);

        impl std::fmt::Display for $name {
            fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(formatter)
            }
        }

        impl std::str::FromStr for $name {
            type Err = std::num::ParseIntError;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                text.parse().map($name)
            }
        }
    )*};
}

ids! {
    /// A member of the workshop.
    MemberId,
    /// A one-time link.
    InvitationId,
    /// A token with which a member's scripts sign in.
    ApiTokenId,
    /// A place for offcuts.
    BinId,
    /// A piece of wood, or several equal ones under one tag.
    OffcutId,
    /// A board that can be bought.
    LumberId,
    /// A thing that a member makes.
    ProjectId,
    /// A piece held for a project.
    ClaimId,
    /// How one claimed piece or bought board is cut.
    LayoutId,
    /// A clamp set, a bench, a machine or a rack place.
    ResourceId,
    /// A step with its start and its resources.
    BookingId,
    /// A match or plan that waits to be accepted.
    ProposalId,
    /// A weekly opening.
    WeeklyOpeningId,
    /// An opening on one day.
    ExtraOpeningId,
    /// Days on which the workshop stays shut.
    ClosureId,
    /// A row of the wood ledger.
    LedgerId,
    /// A row of the audit trail.
    ChangeId,
    /// Where a member's other programs are told of changes.
    NoticeAddressId,
}
