//! Atoms by how often they took part in recent conflicts: a heap with places.

#[derive(Clone, Debug)]
pub struct Activity {
    scores: Vec<f64>,
    heap: Vec<u32>,
    /// Place of each atom in the heap, `ABSENT` where it is not there.
    places: Vec<usize>,
    increment: f64,
}

const ABSENT: usize = usize::MAX;

impl Activity {
    pub fn new() -> Activity {
        Activity {
            scores: Vec::new(),
            heap: Vec::new(),
            places: Vec::new(),
            increment: 1.0,
        }
    }

    /// Makes room for atoms up to `count`.
    pub fn grow(&mut self, count: usize) {
        while self.scores.len() < count {
            self.scores.push(0.0);
            self.places.push(ABSENT);
            self.insert(self.scores.len() as u32 - 1);
        }
    }

    pub fn bump(&mut self, atom: u32) {
        self.scores[atom as usize] += self.increment;
        if self.scores[atom as usize] > 1e100 {
            for score in &mut self.scores {
                *score *= 1e-100;
            }
            self.increment *= 1e-100;
        }
        let place = self.places[atom as usize];
        if place != ABSENT {
            self.rise(place);
        }
    }

    pub fn decay(&mut self) {
        self.increment /= 0.95;
    }

    pub fn insert(&mut self, atom: u32) {
        if self.places[atom as usize] == ABSENT {
            self.places[atom as usize] = self.heap.len();
            self.heap.push(atom);
            self.rise(self.heap.len() - 1);
        }
    }

    pub fn pop(&mut self) -> Option<u32> {
        let first = *self.heap.first()?;
        self.places[first as usize] = ABSENT;
        let last = self.heap.pop().expect("there is a first");
        if last != first {
            self.heap[0] = last;
            self.places[last as usize] = 0;
            self.sink(0);
        }
        Some(first)
    }

    fn score(&self, place: usize) -> f64 {
        self.scores[self.heap[place] as usize]
    }

    fn swap(&mut self, a: usize, b: usize) {
        self.heap.swap(a, b);
        self.places[self.heap[a] as usize] = a;
        self.places[self.heap[b] as usize] = b;
    }

    fn rise(&mut self, mut place: usize) {
        while place > 0 {
            let parent = (place - 1) / 2;
            if self.score(parent) >= self.score(place) {
                break;
            }
            self.swap(parent, place);
            place = parent;
        }
    }

    fn sink(&mut self, mut place: usize) {
        loop {
            let mut child = 2 * place + 1;
            if child >= self.heap.len() {
                break;
            }
            if child + 1 < self.heap.len() && self.score(child + 1) > self.score(child) {
                child += 1;
            }
            if self.score(place) >= self.score(child) {
                break;
            }
            self.swap(place, child);
            place = child;
        }
    }
}
