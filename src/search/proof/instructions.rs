//! Which instruction set the inner loops run on. All of the library's `unsafe` is here.
//!
//! Code is written once, as plain loops, and compiled for each of several sets, of which the best that the machine has
//! is taken when the program runs. Sums over lanes are kept in eight partial sums and products are never fused, so
//! every set gives the same bits.

/// An instruction set that the inner loop is compiled for, and that this machine has: only [`at_hand`](Self::at_hand) makes one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Instructions(Set);

/// The sets there is code for; private, so that none is named that the machine lacks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Set {
    /// Those that every machine of the target has.
    Portable,
    /// 256 bits wide.
    #[cfg(target_arch = "x86_64")]
    Avx2,
    /// 512 bits wide.
    #[cfg(target_arch = "x86_64")]
    Avx512,
}

impl Instructions {
    /// Those that every machine of the target has.
    pub(crate) const PORTABLE: Self = Self(Set::Portable);

    /// All that this machine has, the plainest first.
    pub(crate) fn at_hand() -> Vec<Self> {
        #[cfg_attr(
            not(target_arch = "x86_64"),
            expect(unused_mut, reason = "only x86-64 has others")
        )]
        let mut all = vec![Self::PORTABLE];
        #[cfg(target_arch = "x86_64")]
        {
            if std::is_x86_feature_detected!("avx2") {
                all.push(Self(Set::Avx2));
            }
            if std::is_x86_feature_detected!("avx512f") && std::is_x86_feature_detected!("avx512dq")
            {
                all.push(Self(Set::Avx512));
            }
        }
        all
    }

    /// Runs `task` in code that is compiled for these instructions.
    pub(crate) fn run<T: Task>(self, task: T) -> T::Output {
        #[cfg(target_arch = "x86_64")]
        #[target_feature(enable = "avx2")]
        fn avx2<T: Task>(task: T) -> T::Output {
            task.run()
        }
        #[cfg(target_arch = "x86_64")]
        #[target_feature(enable = "avx512f,avx512dq")]
        fn avx512<T: Task>(task: T) -> T::Output {
            task.run()
        }
        match self.0 {
            Set::Portable => task.run(),
            #[cfg(target_arch = "x86_64")]
            #[expect(unsafe_code, reason = "calls code compiled for an instruction set")]
            // SAFETY: `at_hand` found that this machine has these instructions.
            Set::Avx2 => unsafe { avx2(task) },
            #[cfg(target_arch = "x86_64")]
            #[expect(unsafe_code, reason = "calls code compiled for an instruction set")]
            // SAFETY: `at_hand` found that this machine has these instructions.
            Set::Avx512 => unsafe { avx512(task) },
        }
    }
}

/// What is compiled once for each instruction set: its `run` and all that it calls must be inlined, which closures
/// can't be told.
pub(crate) trait Task {
    /// What comes of it, bit for bit the same from every set.
    type Output;

    /// Does the work. Whoever implements this marks it `#[inline(always)]`: what is called instead is compiled for the
    /// portable set.
    fn run(self) -> Self::Output;
}
