"""A size that the launch model alone states says so; any other keeps what its rule rests on."""

from shaftwright.rules.sizes import shipped


def test_only_the_models_own_sizes_are_called_calculated():
    trade = {rule.code: rule.basis for rule in shipped("trade").rules}
    sized = {code for code, _ in shipped("physics").sizes}
    assert sized
    assert any(trade[code] != "calculated" for code in sized)
    for basis in ("both", "physics"):
        for rule in shipped(basis).rules:
            models = basis == "physics" and rule.code in sized
            assert rule.basis == ("calculated" if models else trade[rule.code]), rule.code
