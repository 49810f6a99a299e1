"""The command line: parse, call one service, print. No rule and no formula lives here."""
