/* SPDX-License-Identifier: Apache-2.0 */
#include "core/paper/sheet.h"

static void block_free(void *gone)
{
    Block *block = gone;

    g_free(block->text);
    g_free(block->mark);
    g_clear_pointer(&block->cells, g_ptr_array_unref);
    picture_free(block->picture);
    g_free(block);
}

Paper *paper_new(const char *title, double size_pt, bool letter)
{
    Paper *sheet = g_new0(Paper, 1);

    *sheet = (Paper){.title = g_strdup(title), .letter = letter, .size_pt = size_pt};
    sheet->blocks = g_ptr_array_new_with_free_func(block_free);
    return sheet;
}

void paper_free(Paper *sheet)
{
    if (sheet == NULL) return;
    g_free(sheet->title);
    g_free(sheet->footer);
    g_free(sheet->page_words);
    g_free(sheet->made);
    g_ptr_array_unref(sheet->blocks);
    g_free(sheet);
}

static Block *append(Paper *sheet, BlockKind kind)
{
    Block *block = g_new0(Block, 1);

    block->kind = kind;
    g_ptr_array_add(sheet->blocks, block);
    return block;
}

void paper_add(Paper *sheet, BlockKind kind, const char *text)
{
    bool blank = kind == BLOCK_PAGE || kind == BLOCK_SPACE;

    if (text == NULL && !blank) return;
    append(sheet, kind)->text = g_strdup(text);
}

void paper_mark(Paper *sheet, BlockKind kind, const char *mark, const char *text)
{
    if (text == NULL) return;
    Block *block = append(sheet, kind);
    block->mark = g_strdup(mark);
    block->text = g_strdup(text);
}

void paper_picture(Paper *sheet, Picture *picture, double part)
{
    if (picture == NULL) return;
    Block *block = append(sheet, BLOCK_PICTURE);
    block->picture = picture;
    block->part = part;
}

void paper_row(Paper *sheet, bool head, const double *share, int n, const char *const *cells)
{
    Block *block = append(sheet, BLOCK_ROW);

    g_assert(n <= SHEET_COLUMNS_MAX);
    block->head = head;
    block->share = share;
    block->cells = g_ptr_array_new_with_free_func(g_free);
    for (int i = 0; i < n; i++)
        g_ptr_array_add(block->cells, g_strdup(cells[i] != NULL ? cells[i] : ""));
}

bool paper_is_letter(const char *name, bool *letter)
{
    *letter = name != NULL && strcmp(name, "letter") == 0;
    return name == NULL || *letter || strcmp(name, "a4") == 0;
}
