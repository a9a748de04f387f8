"""Invented cases whose truth is known: what an audit must find again."""
