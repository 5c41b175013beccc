"""Reports of the examples, made once."""

import pytest
from report_examples import told

from shaftwright.render.page import report_html


@pytest.fixture(scope="session")
def reports():
    return {"full": told(notebook=True), "stock": told(), "rig": told("long_fen", stock=False)}


@pytest.fixture(scope="session")
def pages(reports):
    return {name: report_html(one) for name, one in reports.items()}
