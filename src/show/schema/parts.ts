import { z } from 'zod';
import { SIGNED_AXES } from '../../protocols/axes.js';
import { printable } from '../../stage/printable.js';

/** The northing of a national grid has seven digits; a figure with more is a slip, and squares of it can overflow. */
const MOST_METRES = 1e7;

/** Kinds of value that stand in several places of the files. */
export const Metres = z.number().min(-MOST_METRES).max(MOST_METRES);
export const Seconds = z.number().min(0).max(3600);
export const Degrees = z.number().min(-1080).max(1080);
export const Range = z.tuple([z.number(), z.number()]);
/** The same in metres. */
export const Extent = z.tuple([Metres, Metres]);
export const Point2 = z.tuple([Metres, Metres]);
export const Point3 = z.tuple([Metres, Metres, Metres]);
export const Axes = z.tuple([z.enum(SIGNED_AXES), z.enum(SIGNED_AXES), z.enum(SIGNED_AXES)]);

export const UNITS = { m: 1, cm: 0.01, mm: 0.001, ft: 0.3048, in: 0.0254 } as const;
export const Unit = z
  .enum(Object.keys(UNITS) as (keyof typeof UNITS)[])
  .default('m')
  .meta({ description: 'Unit of the coordinates.' });

export const NAME_PATTERN = /^[A-Za-z][A-Za-z0-9_-]*$/;
export const Name = z
  .string()
  .regex(NAME_PATTERN, 'a name: a letter, and then letters, digits, - and _');
/**
 * A name that stands elsewhere in the show. Any text, so that whoever writes a label ("Ines Lind") is told which
 * name it has, instead of how names are spelt.
 */
export const NameOf = z.string().min(1).max(60);
export const Label = z.string().min(1).max(60).overwrite(printable).meta({
  description: 'What people call it; by default its name.',
});
export const Address4 = z.ipv4();
