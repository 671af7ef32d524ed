"""Answers from home that are kept for offline: bounded, the oldest leave first, and none outlives its home."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from tests.webclient.phone import Phone


@pytest.fixture
def phone(page: Page) -> Phone:
    return Phone(page)


def test_an_answer_is_found_again_and_the_oldest_leave_first(page: Page) -> None:
    phone = Phone(page, now_ms=1_000)
    kept = phone.run(
        """(async () => {
          for (let at = 0; at < 125; at += 1) {
            window.clockMs = 1000 + at;
            await store.kept.put(`/trees/${at}`, { at });
          }
          window.clockMs = 9000;
          await store.kept.put('/trees/6', { at: 'anew' });
          await store.kept.put('/trees/125', { at: 125 });
          const found = [];
          for (let at = 0; at < 126; at += 1) if (await store.kept.get(`/trees/${at}`)) found.push(at);
          return { found, anew: await store.kept.get('/trees/6') };
        })()"""
    )
    # 126 addresses; of the 120 that stay, one was asked for again.
    assert kept["found"] == [6, *range(7, 126)]
    assert kept["anew"] == {"path": "/trees/6", "document": {"at": "anew"}, "fetched_at_ms": 9000}


def test_an_answer_beyond_all_measure_is_not_kept(phone: Phone) -> None:
    assert phone.run("store.kept.put('/trees/1', { text: 'x'.repeat(500001) })")["error"] == "limit"
    assert phone.run("store.kept.get('/trees/1')") is None


def test_a_restored_home_forgets_them(phone: Phone) -> None:
    phone.take()
    phone.run("store.kept.put('/trees/1', { leaves: 40 })")
    phone.take(cursor="2")
    assert phone.run("store.kept.get('/trees/1')") is not None
    phone.take(epoch="second")
    assert phone.run("store.kept.get('/trees/1')") is None
