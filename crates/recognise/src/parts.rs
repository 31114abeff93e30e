//! Words as chains of states of the relaxation, one for each part of their reference. Words that are cut
//! alike go side by side, as many as the widest register holds.

use crate::decode::Key;

/// States side by side.
pub const LANES: usize = 16;

/// How many frames a part lasts: at least 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stay {
    /// At least.
    pub shortest: usize,
    /// At most; `None` where it may last for ever.
    pub longest: Option<usize>,
}

impl Stay {
    /// What holds for either of two.
    fn either(self, other: Self) -> Self {
        Self {
            shortest: self.shortest.min(other.shortest),
            longest: self.longest.zip(other.longest).map(|(a, b)| a.max(b)),
        }
    }
}

/// Up to [`LANES`] words of as many parts.
pub struct Block {
    /// Which row of states, [`LANES`] each, are their first parts; the others follow.
    pub first: usize,
    /// Per part, how long it lasts in any of the words.
    pub stays: Vec<Stay>,
}

/// Words in blocks.
pub struct Parts {
    /// The blocks.
    pub blocks: Vec<Block>,
    /// `[block][lane]`: the word there.
    pub words: Vec<Option<usize>>,
    /// Rows of states in all blocks.
    pub rows: usize,
    /// Per word, which of `words` it is.
    at: Vec<usize>,
}

impl Parts {
    /// Cuts the words of `keys`; `stays` says how long the parts of a template last.
    pub fn new(keys: &[Key], stays: impl Fn(usize) -> Vec<Stay>) -> Self {
        let mut all: Vec<(usize, usize, usize, Vec<Stay>)> = Vec::new();
        let mut first = 0;
        for same in keys.chunk_by(|a, b| a.template == b.template) {
            let stays = stays(same[0].template);
            let len = stays.iter().map(|stay| stay.shortest).sum();
            all.push((first, same.len(), len, stays));
            first += same.len();
        }
        // Words side by side should last alike.
        all.sort_by_key(|(first, _, len, stays)| (stays.len(), *len, *first));
        let mut parts = Self {
            blocks: Vec::new(),
            words: Vec::new(),
            rows: 0,
            at: vec![0; keys.len()],
        };
        let mut open = 0..0;
        for (first, count, _, stays) in all {
            for word in first..first + count {
                match parts.blocks.last_mut() {
                    Some(block) if block.stays.len() == stays.len() && !open.is_empty() => {
                        for (both, stay) in block.stays.iter_mut().zip(&stays) {
                            *both = both.either(*stay);
                        }
                    }
                    _ => {
                        parts.blocks.push(Block {
                            first: parts.rows,
                            stays: stays.clone(),
                        });
                        parts.rows += stays.len();
                        open = parts.words.len()..parts.words.len() + LANES;
                        parts.words.resize(open.end, None);
                    }
                }
                parts.words[open.start] = Some(word);
                parts.at[word] = open.start;
                open.start += 1;
            }
        }
        parts
    }

    /// How many words.
    pub fn len(&self) -> usize {
        self.at.len()
    }

    /// Where a word's states are: the block, and which of its lanes.
    pub fn place(&self, word: usize) -> (&Block, usize) {
        let at = self.at[word];
        (&self.blocks[at / LANES], at % LANES)
    }

    /// Which of [`Self::words`] a word is.
    pub fn at(&self, word: usize) -> usize {
        self.at[word]
    }
}
