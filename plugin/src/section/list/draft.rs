//! A copy of the list while it is edited, and the edits that need more than a line.

use super::{
    END_S, FIRST_S, MIN_SECTION_S, NewSection, Place, SAME_TIME_S, Section, SectionError, Side,
    check_length, check_name, check_place,
};

/// A list that is being edited.
#[derive(Debug)]
pub(super) struct Draft {
    pub list: Vec<Section>,
    pub next_id: u32,
    pub song_end_s: Option<f64>,
}

impl Draft {
    pub fn index(&self, id: u32) -> Result<usize, SectionError> {
        let index = self.list.iter().position(|section| section.id == id);
        index.ok_or(SectionError::NoSuchSection { id })
    }

    pub fn get(&self, id: u32) -> Result<&Section, SectionError> {
        let found = self.list.iter().find(|section| section.id == id);
        found.ok_or(SectionError::NoSuchSection { id })
    }

    pub fn get_mut(&mut self, id: u32) -> Result<&mut Section, SectionError> {
        let found = self.list.iter_mut().find(|section| section.id == id);
        found.ok_or(SectionError::NoSuchSection { id })
    }

    /// A section with an id of its own and, without a name, the lowest free "Section n".
    fn make(&mut self, name: Option<&str>, start: Place, end: Place, open: bool) -> Section {
        // The next number, or, where a saved list used the highest ones up, any free one.
        let id = (self.next_id..=u32::MAX)
            .chain(1..self.next_id)
            .find(|&id| self.get(id).is_err())
            .unwrap_or(self.next_id);
        self.next_id = id.checked_add(1).unwrap_or(1);
        let name = name.map_or_else(|| self.free_name(), |name| name.trim().to_owned());
        Section {
            id,
            name,
            start_s: start.at_s,
            end_s: end.at_s,
            start_bar: start.bar,
            end_bar: end.bar,
            open,
        }
    }

    fn free_name(&self) -> String {
        (1..=self.list.len() + 1)
            .map(|number| format!("Section {number}"))
            .find(|name| self.list.iter().all(|section| section.name != *name))
            .unwrap_or_else(|| "Section".to_owned())
    }

    fn insert(&mut self, section: Section) -> u32 {
        let id = section.id;
        let at = self.list.partition_point(|other| other.start_s < section.start_s);
        self.list.insert(at, section);
        id
    }

    /// Where an open section ends that starts at `start_s`.
    fn open_end(&self, start_s: f64) -> Place {
        let end_s = self.song_end_s.unwrap_or(start_s);
        Place::at(end_s.max(start_s + MIN_SECTION_S).min(END_S))
    }

    pub fn mark(&mut self, at: Place) -> Result<u32, SectionError> {
        check_place("mark", at)?;
        let at = self.joined(at);
        if let Some(inside) = self.list.iter().find(|section| section.contains(at.at_s)) {
            let id = inside.id;
            return self.split(id, at);
        }
        let next = self.list.iter().find(|section| section.start_s > at.at_s);
        let (end, open) = match next {
            Some(next) => (next.start(), false),
            None => (self.open_end(at.at_s), true),
        };
        // An open section was still running: this is where it ends.
        let last = self.list.last_mut();
        if let Some(before) = last.filter(|last| last.open && last.start_s < at.at_s) {
            before.set_end(at);
            before.open = false;
        }
        check_length(at.at_s, end.at_s)?;
        let section = self.make(None, at, end, open);
        Ok(self.insert(section))
    }

    pub fn split(&mut self, id: u32, at: Place) -> Result<u32, SectionError> {
        check_place("split", at)?;
        let section = self.get(id)?;
        let (open, start) = (section.open, section.start());
        let end = if open { self.open_end(at.at_s) } else { section.end() };
        check_length(start.at_s, at.at_s)?;
        check_length(at.at_s, end.at_s)?;
        let section = self.get_mut(id)?;
        section.set_end(at);
        section.open = false;
        let after = self.make(None, at, end, open);
        Ok(self.insert(after))
    }

    pub fn add_range(
        &mut self,
        start: Place,
        end: Place,
        name: Option<&str>,
    ) -> Result<u32, SectionError> {
        check_place("start", start)?;
        check_place("end", end)?;
        let (start, end) = (self.joined(start), self.joined(end));
        check_length(start.at_s, end.at_s)?;
        if let Some(name) = name {
            check_name(name)?;
        }
        let mut second_parts = Vec::new();
        let touched = std::mem::take(&mut self.list);
        for mut section in touched {
            if section.open && section.end_s < start.at_s {
                // It was still running: this is where it ends.
                section.set_end(start);
                section.open = false;
            }
            if section.end_s <= start.at_s || section.start_s >= end.at_s {
                self.list.push(section);
                continue;
            }
            let (mut before, mut after) = (section.clone(), section);
            before.set_end(start);
            before.open = false;
            after.set_start(end);
            let long_enough = |part: &Section| check_length(part.start_s, part.end_s).is_ok();
            match (long_enough(&before), long_enough(&after)) {
                (true, true) => {
                    self.list.push(before);
                    // A section of its own: named when all that remain are known.
                    second_parts.push(after);
                }
                (true, false) => self.list.push(before),
                (false, true) => self.list.push(after),
                (false, false) => {}
            }
        }
        let section = self.make(name, start, end, false);
        let id = self.insert(section);
        for part in second_parts {
            let part = self.make(None, part.start(), part.end(), part.open);
            self.insert(part);
        }
        Ok(id)
    }

    pub fn move_edge(&mut self, id: u32, side: Side, to: Place) -> Result<Place, SectionError> {
        if !to.at_s.is_finite() {
            return Err(SectionError::OutOfRange { what: "edge", at_s: to.at_s });
        }
        let index = self.index(id)?;
        let section = self.get(id)?.clone();
        // The sections on both sides of the edge, and whether they share it.
        let (left_index, right_index) = match side {
            Side::Start => (index.checked_sub(1), Some(index)),
            Side::End => (Some(index), Some(index + 1)),
        };
        let side_of = |index: Option<usize>| index.and_then(|index| self.list.get(index)).cloned();
        let (left, right) = (side_of(left_index), side_of(right_index));
        let edge_s = match side {
            Side::Start => section.start_s,
            Side::End => section.end_s,
        };
        let moves_left = left.as_ref().is_some_and(|left| left.end_s == edge_s);
        let moves_right = right.as_ref().is_some_and(|right| right.start_s == edge_s);

        let lowest = match &left {
            Some(left) if moves_left => Place::at(left.start_s + MIN_SECTION_S),
            Some(left) => left.end(),
            None => Place::at(FIRST_S),
        };
        let highest = match &right {
            Some(right) if moves_right => Place::at(right.end_s - MIN_SECTION_S),
            Some(right) => right.start(),
            None => Place::at(END_S),
        };
        let place = if to.at_s < lowest.at_s + SAME_TIME_S {
            lowest
        } else if to.at_s > highest.at_s - SAME_TIME_S {
            highest
        } else {
            to
        };
        if let Some(left) = left_index.filter(|_| moves_left).and_then(|at| self.list.get_mut(at)) {
            left.set_end(place);
            left.open = false;
        }
        if let Some(right) =
            right_index.filter(|_| moves_right).and_then(|at| self.list.get_mut(at))
        {
            right.set_start(place);
        }
        Ok(place)
    }

    /// `place`, or the edge that stands at the same time, so that the two are one.
    fn joined(&self, place: Place) -> Place {
        self.list
            .iter()
            .flat_map(|section| [section.start(), section.end()])
            .find(|edge| (edge.at_s - place.at_s).abs() < SAME_TIME_S)
            .map_or(place, |edge| Place { at_s: edge.at_s, bar: place.bar.or(edge.bar) })
    }

    pub fn replace_all(&mut self, mut new: Vec<NewSection>) -> Result<(), SectionError> {
        new.sort_by(|a, b| a.start.at_s.total_cmp(&b.start.at_s));
        self.list.clear();
        let nexts: Vec<Option<Place>> =
            new.iter().skip(1).map(|next| Some(next.start)).chain([None]).collect();
        for (section, next) in new.into_iter().zip(nexts) {
            check_place("start", section.start)?;
            let end = section.end.or(next);
            let open = end.is_none();
            let end = end.unwrap_or_else(|| self.open_end(section.start.at_s));
            let made = self.make(section.name.as_deref(), section.start, end, open);
            self.list.push(made);
        }
        Ok(())
    }
}
