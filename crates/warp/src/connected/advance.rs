//! One word moves on by one query frame.

use std::ops::Range;

use pulp::{Simd, WithSimd};

use super::states::Place;
use crate::real::{Lanes, Real, Vector};

/// One word, one query frame.
pub(super) struct Advance<'a, T> {
    pub place: Place,
    /// The word's frames that can be reached.
    pub rows: Range<usize>,
    /// Costs of those.
    pub local: &'a [T],
    pub old_costs: &'a [T],
    pub old_tokens: &'a [u32],
    pub new_costs: &'a mut [T],
    pub new_tokens: &'a mut [u32],
    pub entry: T,
    pub token: u32,
}

impl<T: Real> WithSimd for Advance<'_, T> {
    /// Least cost before the word's last frame, and cost at it.
    type Output = (T, T);

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> (T, T) {
        let Place {
            pad,
            len,
            rows,
            unbounded,
            wait_at_end,
            ..
        } = self.place;
        let Range { start, end } = self.rows;
        let count = end - start;
        let (old_best, old_stays) = self.old_costs.split_at(pad + len);
        let (old_best_tokens, old_stay_tokens) = self.old_tokens.split_at(pad + len);
        let (best, stays) = self.new_costs.split_at_mut(pad + len);
        let (best_tokens, stay_tokens) = self.new_tokens.split_at_mut(pad + len);
        let (best, best_tokens) = (
            &mut best[pad + start..pad + end],
            &mut best_tokens[pad + start..pad + end],
        );

        let from = |advance: usize| pad + start - advance..pad + end - advance;
        let (one, two) = (from(1), from(pad.min(2)));
        least_of(
            best,
            best_tokens,
            (&old_best[one.clone()], &old_best_tokens[one]),
            (&old_best[two.clone()], &old_best_tokens[two]),
        );
        for advance in 3..=pad {
            let from = from(advance);
            keep_least(
                best,
                best_tokens,
                &old_best[from.clone()],
                &old_best_tokens[from],
            );
        }
        if unbounded {
            let stay = from(0);
            keep_least(
                best,
                best_tokens,
                &old_best[stay.clone()],
                &old_best_tokens[stay],
            );
        }
        if start == 0 && (self.entry <= best[0] || !unbounded) {
            (best[0], best_tokens[0]) = (self.entry, self.token);
        }
        add(best, self.local);
        if rows > 0 {
            stays[start..end].copy_from_slice(best);
            stay_tokens[start..end].copy_from_slice(best_tokens);
            for stay in 1..=rows {
                let old = (stay - 1) * len + start..(stay - 1) * len + end;
                let (old_costs, old_tokens) =
                    (&old_stays[old.clone()], &old_stay_tokens[old.clone()]);
                if stay < rows {
                    let new = stay * len + start..stay * len + end;
                    let row = &mut stays[new.clone()];
                    for ((row, &old), &local) in row.iter_mut().zip(old_costs).zip(self.local) {
                        *row = old + local;
                    }
                    stay_tokens[new].copy_from_slice(old_tokens);
                }
                keep_least_after(best, best_tokens, old_costs, old_tokens, self.local);
            }
        }
        if end < len {
            return (least(simd, best), T::INFINITY);
        }
        let last = count - 1;
        if wait_at_end {
            let waited = old_best[pad + len - 1] + self.local[last];
            if waited < best[last] {
                (best[last], best_tokens[last]) = (waited, old_best_tokens[pad + len - 1]);
            }
        }
        (least(simd, &best[..last]), best[last])
    }
}

/// The lesser of two rows, of equals the first's.
#[inline(always)]
fn least_of<T: Real>(
    best: &mut [T],
    tokens: &mut [u32],
    (a, a_tokens): (&[T], &[u32]),
    (b, b_tokens): (&[T], &[u32]),
) {
    let out = best.iter_mut().zip(tokens);
    let both = a.iter().zip(a_tokens).zip(b.iter().zip(b_tokens));
    for ((best, token), ((&a, &a_token), (&b, &b_token))) in out.zip(both) {
        let second = b < a;
        *best = if second { b } else { a };
        *token = if second { b_token } else { a_token };
    }
}

#[inline(always)]
fn keep_least<T: Real>(best: &mut [T], tokens: &mut [u32], other: &[T], other_tokens: &[u32]) {
    for (((best, token), &other), &other_token) in
        best.iter_mut().zip(tokens).zip(other).zip(other_tokens)
    {
        let better = other < *best;
        *best = if better { other } else { *best };
        *token = if better { other_token } else { *token };
    }
}

#[inline(always)]
fn keep_least_after<T: Real>(
    best: &mut [T],
    tokens: &mut [u32],
    other: &[T],
    other_tokens: &[u32],
    local: &[T],
) {
    let others = other.iter().zip(other_tokens).zip(local);
    for ((best, token), ((&other, &other_token), &local)) in best.iter_mut().zip(tokens).zip(others)
    {
        let other = other + local;
        let better = other < *best;
        *best = if better { other } else { *best };
        *token = if better { other_token } else { *token };
    }
}

#[inline(always)]
fn add<T: Real>(row: &mut [T], local: &[T]) {
    for (cost, &local) in row.iter_mut().zip(local) {
        *cost += local;
    }
}

#[inline(always)]
fn least<T: Real, S: Simd>(simd: S, row: &[T]) -> T {
    let registers = T::read::<S>(row);
    let width = size_of::<T::Register<S>>() / size_of::<T>();
    let mut lanes = [T::INFINITY; MOST_LANES];
    if let Some(all) = T::write::<S>(&mut lanes).first_mut() {
        let mut least = Lanes::<S, T> { simd, value: *all };
        for &value in registers {
            least = least.least(Lanes { simd, value });
        }
        *all = least.value;
    }
    let rest = &row[registers.len() * width..];
    let each = lanes[..width].iter().chain(rest);
    each.fold(T::INFINITY, |least, &cost| least.least(cost))
}

/// Lanes of the widest register.
const MOST_LANES: usize = 16;
