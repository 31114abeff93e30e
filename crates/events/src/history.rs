//! What courses of the ball went through before the state they are in.

use crate::course::{Course, Ctl, NONE};
use crate::decode::Run;

/// A state that was left, and what came before it.
#[derive(Debug, Clone, Copy)]
struct Link {
    ctl: Ctl,
    from: usize,
    past: u32,
    /// Not left: a course was looked at in it, and which look and which course that was.
    mark: Option<Mark>,
}

/// A look at all courses, and one of them, each by number.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Mark {
    look: usize,
    course: usize,
}

/// The changes of state that live courses go back to.
#[derive(Debug, Default)]
pub(crate) struct History {
    links: Vec<Link>,
}

impl History {
    /// Links held.
    pub fn len(&self) -> usize {
        self.links.len()
    }

    /// Writes down the state that a course has just left, if it has.
    pub fn note(&mut self, c: &mut Course) {
        if let Some((ctl, from)) = c.left.take() {
            let past = c.past;
            c.past = self.push(Link {
                ctl,
                from,
                past,
                mark: None,
            });
        }
    }

    /// Marks where all courses are at a look, so that another history may be put before it.
    pub fn mark(&mut self, look: usize, live: &mut [Course]) {
        for (course, c) in live.iter_mut().enumerate() {
            c.past = self.push(Link {
                ctl: c.ctl,
                from: c.since,
                past: c.past,
                mark: Some(Mark { look, course }),
            });
        }
    }

    fn push(&mut self, l: Link) -> u32 {
        self.links.push(l);
        (self.links.len() - 1) as u32
    }

    /// Keeps only the links that a live course goes back to.
    pub fn forget(&mut self, live: &mut [Course]) {
        let mut new = vec![NONE; self.links.len()];
        for c in live.iter() {
            let mut at = c.past;
            while at != NONE && new[at as usize] == NONE {
                new[at as usize] = 0;
                at = self.links[at as usize].past;
            }
        }
        let mut kept = 0;
        for (i, n) in new.iter_mut().enumerate() {
            if *n != NONE {
                *n = kept;
                self.links.swap(kept as usize, i);
                kept += 1;
            }
        }
        self.links.truncate(kept as usize);
        let renamed = |at: u32| if at == NONE { NONE } else { new[at as usize] };
        for l in &mut self.links {
            l.past = renamed(l.past);
        }
        for c in live {
            c.past = renamed(c.past);
        }
    }

    /// Puts another history, whose courses were those of a look in the same order, before that look.
    pub fn put_before(&mut self, look: usize, earlier: &Self, courses: &[Course]) {
        let behind = self.links.len() as u32;
        let renamed = |at: u32| if at == NONE { NONE } else { at + behind };
        for l in &mut self.links {
            if let Some(mark) = l.mark
                && mark.look == look
            {
                let c = &courses[mark.course];
                (l.from, l.past) = (c.since, renamed(c.past));
            }
        }
        self.links.extend(earlier.links.iter().map(|l| Link {
            past: renamed(l.past),
            ..*l
        }));
    }

    /// A course as runs of one state each, up to a frame.
    pub fn trace(&self, course: &Course, frames: usize) -> Vec<Run> {
        let mut out = vec![Run {
            ctl: course.ctl,
            from: course.since,
            to: frames,
        }];
        let (mut at, mut to) = (course.past, course.since);
        while at != NONE {
            let l = &self.links[at as usize];
            if l.mark.is_some() {
                // The same run, whose beginning what was put before may know better.
                to = l.from;
                if let Some(run) = out.last_mut() {
                    run.from = to;
                }
            } else if l.from < to {
                out.push(Run {
                    ctl: l.ctl,
                    from: l.from,
                    to,
                });
                to = l.from;
            }
            at = l.past;
        }
        out.reverse();
        out
    }
}
