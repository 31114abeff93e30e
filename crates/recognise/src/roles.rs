//! Who may have which role: every assignment of players to roles.

/// An assignment: for each role the row of the query, or `None` where no player is left for it.
pub type Assignment = Vec<Option<usize>>;

/// Most players or roles considered; above it the number of assignments is out of hand.
pub const MOST: usize = 6;

/// A number for who has each role, by which assignments of as many roles are in order.
pub fn rank(roles: impl Iterator<Item = Option<usize>>) -> u32 {
    let digit = |player: Option<usize>| player.map_or(0, |player| player as u32 + 1);
    roles.fold(0, |rank, player| rank * (MOST as u32 + 1) + digit(player))
}

/// All assignments of `players` rows to `roles` roles, in lexicographic order.
///
/// With fewer players than roles, some roles stay empty; with
/// more, some players have none. Returns an empty list above [`MOST`] players or roles.
pub fn assignments(players: usize, roles: usize) -> Vec<Assignment> {
    if players > MOST || roles > MOST || players == 0 || roles == 0 {
        return Vec::new();
    }
    let mut found = Vec::new();
    let mut current = Vec::with_capacity(roles);
    extend(players, roles, &mut current, 0, &mut found);
    found.sort_unstable();
    found
}

fn extend(
    players: usize,
    roles: usize,
    current: &mut Assignment,
    used: u32,
    found: &mut Vec<Assignment>,
) {
    let role = current.len();
    if role == roles {
        found.push(current.clone());
        return;
    }
    for row in 0..players {
        if used >> row & 1 == 0 {
            current.push(Some(row));
            extend(players, roles, current, used | 1 << row, found);
            current.pop();
        }
    }
    let empty = current.iter().filter(|p| p.is_none()).count();
    if empty < roles.saturating_sub(players) {
        current.push(None);
        extend(players, roles, current, used, found);
        current.pop();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_to_five_is_a_hundred_and_twenty() {
        let all = assignments(5, 5);
        assert_eq!(all.len(), 120);
        assert!(all.windows(2).all(|w| w[0] < w[1]), "lexicographic");
    }

    #[test]
    fn ranks_are_in_the_order_of_assignments() {
        for (players, roles) in [(6, 6), (5, 5), (2, 3), (4, 3)] {
            let all = assignments(players, roles);
            let ranks: Vec<u32> = all.iter().map(|a| rank(a.iter().copied())).collect();
            assert!(ranks.is_sorted_by(|a, b| a < b), "{players} to {roles}");
        }
    }

    #[test]
    fn all_are_in_order_with_a_role_left_open() {
        let all = assignments(3, 4);
        assert_eq!(all.len(), 24);
        assert!(all.windows(2).all(|w| w[0] < w[1]), "lexicographic");
    }

    #[test]
    fn a_missing_player_leaves_one_role_empty() {
        // Choose the empty role (3), then place 2 players: 3 * 2! = 6.
        let all = assignments(2, 3);
        assert_eq!(all.len(), 6);
        assert!(
            all.iter()
                .all(|a| a.iter().filter(|p| p.is_none()).count() == 1)
        );
    }

    #[test]
    fn a_spare_player_has_no_role() {
        assert_eq!(assignments(4, 3).len(), 24);
    }
}
