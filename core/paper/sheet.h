/* SPDX-License-Identifier: Apache-2.0 */
/* Paper as values: blocks one after the other, in words of the reader's language. Whoever draws
 * (adapters/chart) breaks lines and pages and decides nothing else. */
#ifndef OSIER_CORE_PAPER_SHEET_H
#define OSIER_CORE_PAPER_SHEET_H

#include "core/paper/picture.h"

#define SHEET_COLUMNS_MAX 6

typedef enum {
    BLOCK_TITLE,
    BLOCK_HEADING, /* stays with what follows, as BLOCK_LABEL does */
    BLOCK_LABEL,
    BLOCK_TEXT,
    BLOCK_SMALL,
    BLOCK_ITEM, /* mark, and the text beside it */
    BLOCK_BOX,  /* framed: must not be missed */
    BLOCK_PAIR, /* mark is the name, in a column of its own */
    BLOCK_ROW,  /* cells in columns */
    BLOCK_PICTURE,
    BLOCK_SPACE,
    BLOCK_PAGE /* what follows begins a page, unless one has hardly begun */
} BlockKind;

typedef struct {
    BlockKind kind;
    char *text;
    char *mark;
    GPtrArray *cells;    /* BLOCK_ROW: of text */
    const double *share; /* BLOCK_ROW: of the width, for each cell; static */
    bool head;           /* BLOCK_ROW: names of the columns */
    Picture *picture;
    double part; /* BLOCK_PICTURE: of the width */
} Block;

typedef struct {
    char *title;
    char *footer;
    char *page_words;  /* "Page {value} of {total}" as the pack has it */
    char *made;        /* instant, RFC 3339 */
    bool letter;       /* US Letter; else A4 */
    double size_pt;    /* of the text */
    GPtrArray *blocks; /* of Block, which it frees */
} Paper;

Paper *paper_new(const char *title, double size_pt, bool letter);
void paper_free(Paper *sheet);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Paper, paper_free)

/* Each adds a block at the end. Texts are copied; a NULL text adds nothing. */
void paper_add(Paper *sheet, BlockKind kind, const char *text);
void paper_mark(Paper *sheet, BlockKind kind, const char *mark, const char *text);

/* The picture is taken over; NULL adds nothing. */
void paper_picture(Paper *sheet, Picture *picture, double part);

/* A row of so many cells; share is static. */
void paper_row(Paper *sheet, bool head, const double *share, int n, const char *const *cells);

/* "a4" or "letter" to whether it is Letter; false for anything else. NULL is A4. */
bool paper_is_letter(const char *name, bool *letter);

#endif
