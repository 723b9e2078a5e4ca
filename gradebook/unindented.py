"""Templates as they go over the wire: without the indentation that is for who writes them."""

import re
from collections.abc import Iterator

from jinja2.ext import Extension
from jinja2.lexer import TOKEN_BLOCK_END, TOKEN_DATA, Token, TokenStream

BREAK = re.compile(r"[ \t]*\n\s*")
BEGINS = re.compile(r"^[ \t]+")


class Unindented(Extension):
    """Every line break of a template, with all blanks around it, is one line break.

    Where a line ends with a mark, `trim_blocks` has taken its break: there the blanks that
    begin the next line are one. What is put in stays as it is: it is not of the template.
    """

    def filter_stream(self, stream: TokenStream) -> Iterator[Token]:
        """The template's tokens, the text between its marks unindented."""
        mark = 0
        for token in stream:
            if token.type == TOKEN_DATA:
                text = BREAK.sub("\n", token.value)
                begins_a_line = 0 < mark < token.lineno
                token = token._replace(value=BEGINS.sub("\n", text) if begins_a_line else text)
            mark = token.lineno if token.type == TOKEN_BLOCK_END else 0
            yield token
