"""Are the tests of the modules that everything rests on able to fail? Each is spoilt to see."""
