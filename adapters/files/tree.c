/* SPDX-License-Identifier: Apache-2.0 */
/* The parser's events build the tree, not the library's documents: so every node brings its place,
 * every duplicate key is found (the library stops at the first, and its search is quadratic), and
 * nothing that points elsewhere in the file (anchors, aliases, merge keys, tags) ever gets to mean
 * anything. */
#include "adapters/files/tree.h"

#include <libfyaml.h>
#include <string.h>

#include "adapters/files/complaint.h"
#include "adapters/files/places.h"
#include "adapters/files/text.h"

enum { DEPTH_MAX = 32, MESSAGES_MAX = 100 };

struct Tree {
    char *path;
    char *text;
    size_t length; /* of the text */
    json_t *root;
    Places *places;
};

/* A mapping or a list that is still open. */
typedef struct {
    json_t *node;
    int place; /* its number in Tree.places */
    char *key; /* mapping: the key whose value comes next, or NULL */
    bool drop; /* the value of a faulty key is read and dropped */
    int key_line, key_column;
} Frame;

typedef struct {
    Tree *tree;
    GPtrArray *frames; /* of Frame */
    GPtrArray *messages;
    guint first; /* messages of earlier files */
} Builder;

static void free_frame(void *data)
{
    Frame *frame = data;

    json_decref(frame->node);
    g_free(frame->key);
    g_free(frame);
}

void tree_free(Tree *tree)
{
    if (tree == NULL) return;
    g_free(tree->path);
    g_free(tree->text);
    json_decref(tree->root);
    places_free(tree->places);
    g_free(tree);
}

const char *tree_text(const Tree *tree)
{
    return tree->text;
}

json_t *tree_root(const Tree *tree)
{
    return tree->root;
}

static void complain(Builder *builder, int line, int column, const char *value, const char *why)
{
    if (builder->messages->len - builder->first >= MESSAGES_MAX) return;
    complaint_add(builder->messages, builder->tree->path, line, column, value, "%s", why);
}

static Frame *top(Builder *builder)
{
    if (builder->frames->len == 0) return NULL;
    return builder->frames->pdata[builder->frames->len - 1];
}

/* Notes where the value that comes next stands; the number of its place. */
static int add_place(Builder *builder, int line, int column, const char *written)
{
    const Frame *frame = top(builder);
    Place place = {line, column, line, column, written};
    PlaceBelow below = {.above = -1};

    if (frame != NULL) {
        below = (PlaceBelow){frame->place, frame->key, json_array_size(frame->node), frame->drop};
        if (frame->key != NULL) {
            place.key_line = frame->key_line;
            place.key_column = frame->key_column;
        }
    }
    return places_add(builder->tree->places, &below, &place);
}

/* Puts a value where it belongs; takes it over. */
static void attach(Builder *builder, json_t *value)
{
    Frame *frame = top(builder);

    if (frame == NULL) {
        json_decref(builder->tree->root);
        builder->tree->root = value;
    } else if (json_is_array(frame->node)) {
        json_array_append_new(frame->node, value);
    } else {
        if (frame->drop)
            json_decref(value);
        else
            json_object_set_new(frame->node, frame->key, value);
        g_clear_pointer(&frame->key, g_free);
        frame->drop = false;
    }
}

/* A plain scalar by the core schema, as far as JSON's grammar goes; NULL where it is text. */
static json_t *plain_value(const char *text)
{
    if (*text == '\0' || strcmp(text, "null") == 0) return json_null();
    if (strcmp(text, "true") == 0) return json_true();
    if (strcmp(text, "false") == 0) return json_false();
    if (*text != '-' && !g_ascii_isdigit(*text)) return NULL;
    json_t *number = json_loads(text, JSON_DECODE_ANY, NULL);
    if (json_is_number(number)) return number;
    json_decref(number);
    return NULL;
}

static void take_key(Builder *builder, const char *text, bool plain, int line, int column)
{
    Frame *frame = top(builder);

    frame->key = g_strdup(text);
    frame->key_line = line;
    frame->key_column = column;
    frame->drop = true;
    if (plain && strcmp(text, "<<") == 0) {
        complain(builder, line, column, text, "merge keys are not taken; write the keys out");
    } else if (*text == '\0') {
        complain(builder, line, column, text, "a key cannot be empty");
    } else if (json_object_get(frame->node, text) != NULL) {
        const Place *before = places_of_key(builder->tree->places, frame->place, text);
        g_autofree char *why = g_strdup_printf("duplicate key; it is given on line %d already",
                                               before != NULL ? before->key_line : 0);
        complain(builder, line, column, text, why);
    } else {
        frame->drop = false;
    }
}

static bool key_is_next(Builder *builder)
{
    const Frame *frame = top(builder);

    return frame != NULL && json_is_object(frame->node) && frame->key == NULL;
}

/* A scalar's text, which holds neither a NUL nor broken UTF-8. */
typedef struct {
    const char *at;
    size_t length;
    bool plain; /* neither quoted nor a block */
} Scalar;

/* What lies in the file's own text was looked at already; what has escapes or several lines was put together. */
static bool is_of_file(const Tree *tree, const char *at)
{
    return at >= tree->text && at < tree->text + tree->length;
}

static Scalar scalar_of(Builder *builder, struct fy_token *token, int line, int column)
{
    Scalar scalar = {.plain = token == NULL || fy_scalar_token_get_style(token) == FYSS_PLAIN};

    if (token != NULL) scalar.at = fy_token_get_text(token, &scalar.length);
    if (scalar.at == NULL) return (Scalar){"", 0, scalar.plain};
    if (is_of_file(builder->tree, scalar.at) || g_utf8_validate_len(scalar.at, scalar.length, NULL))
        return scalar;
    g_autofree char *text = g_strndup(scalar.at, scalar.length);
    complain(builder, line, column, text, "is not valid text (a NUL or broken UTF-8)");
    return (Scalar){"?", 1, scalar.plain};
}

static void take_scalar(Builder *builder, struct fy_token *token, int line, int column)
{
    Scalar scalar = scalar_of(builder, token, line, column);
    g_autofree char *text =
        scalar.plain || key_is_next(builder) ? g_strndup(scalar.at, scalar.length) : NULL;

    if (key_is_next(builder)) {
        take_key(builder, text, scalar.plain, line, column);
        return;
    }
    json_t *value = scalar.plain ? plain_value(text) : NULL;
    add_place(builder, line, column, value != NULL ? text : NULL);
    attach(builder, value != NULL ? value : json_stringn_nocheck(scalar.at, scalar.length));
}

/* False where reading cannot go on. */
static bool open_frame(Builder *builder, json_t *node, int line, int column)
{
    Frame *frame = g_new0(Frame, 1);

    frame->node = node;
    if (key_is_next(builder)) {
        complain(builder, line, column, "", "a key must be plain text");
        free_frame(frame);
        return false;
    }
    frame->place = add_place(builder, line, column, NULL);
    attach(builder, json_incref(node));
    g_ptr_array_add(builder->frames, frame);
    if (builder->frames->len <= DEPTH_MAX) return true;
    complain(builder, line, column, "", "is nested more than 32 levels deep");
    return false;
}

static void refuse_marks(Builder *builder, struct fy_event *event, int line, int column)
{
    if (fy_event_get_anchor_token(event) != NULL)
        complain(builder, line, column, "&", "anchors are not taken; write the value out");
    if (fy_event_get_tag_token(event) != NULL)
        complain(builder, line, column, "!", "tags are not taken; leave it out");
}

/* The library's mark of a quoted scalar or an alias stands behind the quote or the star. */
static bool stands_behind(struct fy_event *event)
{
    if (event->type == FYET_ALIAS) return true;
    if (event->type != FYET_SCALAR || event->scalar.value == NULL) return false;
    enum fy_scalar_style style = fy_scalar_token_get_style(event->scalar.value);
    return style == FYSS_SINGLE_QUOTED || style == FYSS_DOUBLE_QUOTED;
}

static bool take_event(Builder *builder, struct fy_event *event)
{
    const struct fy_mark *mark = fy_event_start_mark(event);
    int line = mark != NULL ? mark->line + 1 : 1, column = mark != NULL ? mark->column + 1 : 1;

    if (column > 1 && stands_behind(event)) column--;
    switch (event->type) {
    case FYET_SCALAR:
        refuse_marks(builder, event, line, column);
        take_scalar(builder, event->scalar.value, line, column);
        return true;
    case FYET_MAPPING_START:
        refuse_marks(builder, event, line, column);
        return open_frame(builder, json_object(), line, column);
    case FYET_SEQUENCE_START:
        refuse_marks(builder, event, line, column);
        return open_frame(builder, json_array(), line, column);
    case FYET_MAPPING_END:
    case FYET_SEQUENCE_END:
        g_ptr_array_set_size(builder->frames, (int)builder->frames->len - 1);
        return true;
    case FYET_ALIAS:
        complain(builder, line, column, "*", "aliases are not taken; write the value out");
        take_scalar(builder, NULL, line, column);
        return true;
    case FYET_DOCUMENT_START:
        if (builder->tree->root == NULL) return true;
        complain(builder, line, column, "---", "a file holds one document");
        return false;
    default: return true;
    }
}

/* What stands at a place, up to the end of its line. */
static char *excerpt(const char *text, int line, int column)
{
    while (--line > 0 && (text = strchr(text, '\n')) != NULL)
        text++;
    while (text != NULL && --column > 0 && *text != '\n' && *text != '\0')
        text = g_utf8_next_char(text);
    return text != NULL ? g_strndup(text, strcspn(text, "\r\n")) : g_strdup("");
}

static void add_syntax_errors(Builder *builder, struct fy_diag *diag)
{
    const struct fy_diag_error *error;
    void *state = NULL;
    guint before = builder->messages->len;

    while ((error = fy_diag_errors_iterate(diag, &state)) != NULL) {
        int line = MAX(error->line, 1), column = MAX(error->column, 1);
        g_autofree char *found = excerpt(builder->tree->text, line, column);
        if (error->type >= FYET_ERROR) complain(builder, line, column, found, error->msg);
    }
    if (builder->messages->len == before) complain(builder, 1, 1, "", "cannot be read as YAML");
}

static void parse(Builder *builder)
{
    struct fy_diag_cfg quiet;
    fy_diag_cfg_default(&quiet);
    quiet.fp = NULL;
    quiet.colorize = false;
    struct fy_diag *diag = fy_diag_create(&quiet);
    fy_diag_set_collect_errors(diag, true);
    struct fy_parse_cfg settings = {.flags = FYPCF_QUIET, .diag = diag};
    struct fy_parser *parser = fy_parser_create(&settings);
    bool on = true, ended = false;

    g_assert(parser != NULL);
    fy_parser_set_string(parser, builder->tree->text, builder->tree->length);
    while (on) {
        struct fy_event *event = fy_parser_parse(parser);
        if (event == NULL) break;
        ended = event->type == FYET_STREAM_END;
        on = !ended && take_event(builder, event);
        fy_parser_event_free(parser, event);
    }
    if (on && !ended) add_syntax_errors(builder, diag);
    fy_diag_reset_error(diag);
    fy_parser_destroy(parser);
    fy_diag_unref(diag);
}

Tree *tree_load(const char *path, GPtrArray *messages)
{
    size_t length;
    g_autofree char *text = text_load(path, TREE_BYTES_MAX, &length, messages);

    if (text == NULL) return NULL;
    g_autoptr(Tree) tree = g_new0(Tree, 1);
    tree->path = g_strdup(path);
    tree->text = g_steal_pointer(&text);
    tree->length = length;
    tree->places = places_new();
    g_autoptr(GPtrArray) frames = g_ptr_array_new_with_free_func(free_frame);
    Builder builder = {tree, frames, messages, messages->len};
    parse(&builder);
    if (messages->len > builder.first) return NULL;
    if (tree->root == NULL) tree->root = json_null();
    return g_steal_pointer(&tree);
}

static const char *written(const void *source, const char *pointer)
{
    const Tree *tree = source;
    const Place *place = places_get(tree->places, pointer);

    return place != NULL ? place->written : NULL;
}

Faults *tree_faults_new(const Tree *tree)
{
    Faults *faults = faults_new();

    faults->written = written;
    faults->source = tree;
    return faults;
}

void tree_faults(const Tree *tree, const Faults *faults, GPtrArray *messages)
{
    places_faults(tree->places, tree->path, faults, messages);
}
