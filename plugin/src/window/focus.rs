//! Keys that the editor does not want go to the host: on Windows they go to the window that has the
//! keyboard's focus, the window library takes it with every click, and never gives it back.
//!
//! It is given back some frames after the mouse was released, or a field, menu or dialog was done, if
//! nothing of the editor wants keys then. Whoever gives it to the editor by another way than a click
//! means it, and it stays. Not while a frame is drawn: what the host does about it may come back to
//! the window.
#![allow(
    unsafe_code,
    reason = "windows of the system, and a timer of the thread that they belong to"
)]

use super::wants::Wants;
use raw_window_handle::{HasWindowHandle, RawWindowHandle};
use std::cell::Cell;
use std::ptr;
use windows_sys::Win32::Foundation::HWND;
use windows_sys::Win32::UI::Input::KeyboardAndMouse::{GetFocus, SetFocus};
use windows_sys::Win32::UI::WindowsAndMessaging::{GetParent, KillTimer, SetTimer};

/// What a click opens has the focus so many frames later. The project's own choice, no source.
const FRAMES: u8 = 3;

thread_local! {
    /// The one that is to take the focus and the one that then has it, for the timer.
    static GIVEN: Cell<Option<(HWND, HWND)>> = const { Cell::new(None) };
}

/// A window's handle as a number: it may go to another thread.
type Handle = usize;

const fn handle(window: Handle) -> HWND {
    ptr::with_exposed_provenance_mut(window)
}

/// The keyboard's focus of one window.
pub struct Focus {
    window: Handle,
    /// Who had it last, if it was another window of this thread; else 0.
    before: Cell<Handle>,
    /// It is given back after so many frames in which nothing wants it; 0 if it is not.
    frames: Cell<u8>,
    /// The timer that gives it back; 0 if there is none.
    timer: Cell<usize>,
}

impl Focus {
    /// Of this window; `None` if it is none of the system's.
    pub fn new(window: &impl HasWindowHandle) -> Option<Self> {
        let RawWindowHandle::Win32(handle) = window.window_handle().ok()?.as_raw() else {
            return None;
        };
        let window = handle.hwnd.get().cast_unsigned();
        Some(Self { window, before: Cell::new(0), frames: Cell::new(0), timer: Cell::new(0) })
    }

    /// To be called in each frame, with what the editor wants after it.
    pub fn follow(&self, ctx: &egui::Context, wants: Wants) {
        // SAFETY: asks the system, which takes any handle.
        let focused = unsafe { GetFocus() }.expose_provenance();
        if focused != self.window {
            self.before.set(focused);
            self.frames.set(0);
        } else if wants != Wants::Tab || ctx.input(|input| input.pointer.any_released()) {
            self.frames.set(FRAMES);
            if wants == Wants::Tab {
                ctx.request_repaint();
            }
        } else if self.frames.get() > 0 {
            self.frames.update(|frames| frames - 1);
            if self.frames.get() == 0 {
                self.give_back();
            } else {
                ctx.request_repaint();
            }
        }
    }

    fn give_back(&self) {
        // SAFETY: asks the system, which takes any handle.
        let parent = unsafe { GetParent(handle(self.window)) };
        if parent.is_null() {
            return;
        }
        let before = handle(self.before.get());
        let to = if before.is_null() { parent } else { before };
        GIVEN.set(Some((handle(self.window), to)));
        // SAFETY: a timer of this thread, whose function lies in this library; `drop` ends it.
        self.timer.set(unsafe { SetTimer(ptr::null_mut(), self.timer.get(), 1, Some(give)) });
    }
}

impl Drop for Focus {
    fn drop(&mut self) {
        if self.timer.get() != 0 {
            // SAFETY: a timer of this thread; one that has ended already is refused.
            unsafe { KillTimer(ptr::null_mut(), self.timer.get()) };
        }
    }
}

unsafe extern "system" fn give(_: HWND, _: u32, timer: usize, _: u32) {
    // SAFETY: the timer that called; handles of windows that are gone are refused.
    unsafe {
        KillTimer(ptr::null_mut(), timer);
        if let Some((from, to)) = GIVEN.take()
            && GetFocus() == from
        {
            SetFocus(to);
        }
    }
}
