"""Streams of chance against the published output of their generators, so that a rerun years later draws the same."""

import random

import numpy as np
import pytest

from palea.calc.stats import chance


def test_layouts_and_demo_stand_on_the_published_twister():
    """Matsumoto & Nishimura 1998, ACM Trans. Model. Comput. Simul. 8:3; mt19937ar.out: init_by_array of 0x123, 0x234,
    0x345, 0x456 begins with these five numbers. Python's random.Random is the stream of the invented demo."""
    twister = random.Random((0x456 << 96) | (0x345 << 64) | (0x234 << 32) | 0x123)
    assert [twister.getrandbits(32) for _ in range(5)] == [1067595299, 955945823, 477289528, 4107218783, 4228976476]


def test_draws_stand_on_the_published_bits_of_pcg64():
    """NumPy's own test set pcg64-testset-1.csv (seed 0xdeadbeaf), from memory; O'Neill 2014 (PCG)."""
    bits = np.random.PCG64(0xDEADBEAF).random_raw(4).tolist()
    assert bits == [0x60D24054E17A0698, 0xD5E79D89856E4F12, 0xD254972FE64BD782, 0xF1E3072A53C72571]


def test_even_draws_are_those_of_numpy():
    """NumPy's Generator.random of the same bits: the upper 53 bits over 2^53."""
    ours = chance.uniforms(chance.stream(7, "truth", "A"), (3, 4))
    theirs = np.random.Generator(chance.stream(7, "truth", "A")).random((3, 4))
    assert ours == pytest.approx(theirs, abs=0)
