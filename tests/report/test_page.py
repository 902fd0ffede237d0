"""The page of a farm: one file that says what the commands say, and asks for nothing else."""

from __future__ import annotations

from rationlp.api import OpenFarm
from rationlp.report.page import farm_page


def test_a_page_stands_alone(demo_book, library):
    page = farm_page(OpenFarm(demo_book, library), ["sw_gro_25_50"], ["north"])
    assert page.startswith("<!DOCTYPE html>")
    assert "http:" not in page and "https:" not in page
    assert "sw_gro_25_50" in page
