/* SPDX-License-Identifier: Apache-2.0 */
/* A YAML file as a JSON tree, with the place in the file of each of its nodes (libfyaml). Plain scalars follow the YAML 1.2
 * core schema as far as JSON's own number grammar, true, false and null go; everything else ("no", 1:30, +44...) is text. */
#ifndef OSIER_ADAPTERS_FILES_TREE_H
#define OSIER_ADAPTERS_FILES_TREE_H

#include "core/clinic/fault.h"

/* A language pack of a thousand kinds of sayings is half of it. */
#define TREE_BYTES_MAX (1024 * 1024)

typedef struct Tree Tree;

/* Reads a file of at most TREE_BYTES_MAX. NULL with lines added to messages (of char *) in the form FILE:LINE:COL: VALUE: WHY for
 * every syntax fault and duplicate key; at 1:1 where it cannot be read. Anchors, aliases, merge keys and tags are refused. An
 * empty file is null. */
Tree *tree_load(const char *path, GPtrArray *messages);
void tree_free(Tree *tree);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Tree, tree_free)

/* The root, lent. */
json_t *tree_root(const Tree *tree);

/* The file as it stands; lent. */
const char *tree_text(const Tree *tree);

/* An empty list of faults that quotes numbers as they are written in the tree's file; freed with faults_free before the
 * tree is. */
Faults *tree_faults_new(const Tree *tree);

/* Turns faults into lines FILE:LINE:COL: VALUE: WHY, added to messages in the order of their places. */
void tree_faults(const Tree *tree, const Faults *faults, GPtrArray *messages);

#endif
